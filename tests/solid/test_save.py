"""Models as files: STEP, GLB, STL and PNG, each read back by other means than they were written with."""

from __future__ import annotations

import json
import re
import struct
from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from tests.solid.belts import as_drafted

from strapwright.core.errors import OutputError
from strapwright.files.atomic_write import MARK, is_ours, write_whole
from strapwright.solid.modeller import cadquery
from strapwright.solid.picture import HEIGHT, WIDTH
from strapwright.solid.save import SUFFIXES, model_bytes

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def model():
    return as_drafted("single prong, keeper")


@pytest.fixture(scope="module")
def files(model):
    return {suffix: model_bytes(model, suffix) for suffix in SUFFIXES}


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_a_file_carries_its_mark_once_and_is_known_again(files, suffix, tmp_path):
    assert files[suffix].count(MARK.encode()) == 1
    path = tmp_path / f"belt{suffix}"
    write_whole({path: files[suffix]})
    assert is_ours(path)
    write_whole({path: files[suffix]})
    path.write_bytes(path.read_bytes().replace(b"0", b"1", 1))
    assert not is_ours(path)
    with pytest.raises(OutputError, match="--force overwrites it"):
        write_whole({path: files[suffix]})


def test_step_keeps_names_colours_and_millimetres(model, files, tmp_path):
    path = tmp_path / "belt.step"
    path.write_bytes(files[".step"])
    names = re.findall(r"PRODUCT\('([^']*)'", files[".step"].decode())
    assert names[:3] == ["belt one", "leather", "keeper"]
    assert {"posts", "posts 1", "posts 4", "buckle", "prongs"} <= set(names)
    assert b"SI_UNIT(.MILLI.,.METRE.)" in files[".step"]
    assert len(set(re.findall(rb"COLOUR_RGB\('',([^)]*)\)", files[".step"]))) >= 5
    read = cadquery().importers.importStep(str(path)).vals()[0]
    whole = sum(piece.volume for piece in model.pieces)
    assert read.Volume() == pytest.approx(whole, rel=1e-6)


def glb_parts(data):
    magic, version, total = struct.unpack_from("<4sII", data)
    length, kind = struct.unpack_from("<I4s", data, 12)
    assert (magic, version, total, kind) == (b"glTF", 2, len(data), b"JSON")
    assert length % 4 == 0
    return json.loads(data[20 : 20 + length])


def test_glb_is_in_metres_with_named_lit_parts(files):
    content = glb_parts(files[".glb"])
    root = content["nodes"][content["scenes"][0]["nodes"][0]]
    assert root["scale"] == [0.001] * 3
    names = {node["name"] for node in content["nodes"]}
    assert {"leather", "keeper", "posts", "posts 1", "buckle", "prongs"} <= names
    long = [a["max"][0] - a["min"][0] for a in content["accessors"] if "max" in a and len(a["max"]) == 3]
    assert 900 < max(long) < 1300  # mm before the root's scale
    looks = {}
    for node in content["nodes"]:
        if "mesh" in node:
            first = content["meshes"][node["mesh"]]["primitives"][0]
            looks[node["name"]] = content["materials"][first["material"]]["pbrMetallicRoughness"]
    assert looks["leather"]["metallicFactor"] == 0.0
    assert looks["buckle"]["metallicFactor"] > 0.5


def test_stl_is_one_closed_mesh_of_the_right_volume(model, files):
    data = files[".stl"]
    count = struct.unpack_from("<I", data, 80)[0]
    assert len(data) == 84 + 50 * count
    record = np.frombuffer(data, dtype=[("floats", "<f4", (12,)), ("spare", "<u2")], offset=84)
    normals, corners = record["floats"][:, :3], record["floats"][:, 3:].reshape(-1, 3, 3).astype(float)
    volume = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6
    assert volume == pytest.approx(sum(piece.volume for piece in model.pieces), rel=0.002)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(np.ones(count), abs=1e-5)


def test_the_picture_shows_leather_brass_and_steel_on_a_light_ground(files):
    data = files[".png"]
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    picture = Image.open(BytesIO(data))
    assert (picture.format, picture.mode, picture.size) == ("PNG", "RGB", (WIDTH, HEIGHT))
    pixels = np.array(picture).astype(int)
    red, green, blue = pixels[..., 0], pixels[..., 1], pixels[..., 2]
    ground = (pixels > 240).all(axis=2).mean()
    brown = ((red > green + 30) & (green > blue + 15)).mean()
    grey = ((abs(red - blue) < 12) & (red > 60) & (red < 225)).mean()
    assert 0.4 < ground < 0.9
    assert brown > 0.08
    assert grey > 0.01
    assert (pixels[0] > 240).mean() > 0.5  # the corner of the picture is not filled by the strap


def test_the_picture_is_the_same_each_time(model, monkeypatch):
    monkeypatch.setattr("strapwright.solid.picture.FINER", 1)
    assert model_bytes(model, ".png") == model_bytes(model, ".png")


def test_another_suffix_is_refused(model):
    with pytest.raises(
        OutputError, match=r'a model is written as \.step, \.glb, \.stl, \.png; found "\.obj"'
    ):
        model_bytes(model, ".obj")
