"""The model as the bytes of a file: STEP, GLB, STL or PNG, each with a mark where readers pass over it."""

from __future__ import annotations

import json
import re
import struct
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import OutputError
from strapwright.files.atomic_write import MARK
from strapwright.solid.modeller import cadquery
from strapwright.solid.picture import METALS, picture_png

if TYPE_CHECKING:
    from collections.abc import Sequence

    from strapwright.solid.model import BeltModel

SUFFIXES: Final = (".step", ".glb", ".stl", ".png")
"""What a model can be written as."""

MESH: Final = 0.02
"""How far a mesh may stray from the solid, mm."""

TURN: Final = 0.15
"""How far neighbouring triangles of a mesh may turn from each other, rad."""

_STAMP: Final = re.compile(r"'\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d'")


def model_bytes(model: BeltModel, suffix: str) -> bytes:
    """Return the model as a file's content, with its mark in it.

    Args:
        model: the belt.
        suffix: one of `SUFFIXES`.

    Raises:
        OutputError: another suffix, or the modeller cannot write.
    """
    check_suffix(suffix, SUFFIXES)
    if suffix == ".png":
        return picture_png(model) + MARK.encode()  # what follows the end chunk no reader looks at
    if suffix == ".stl":
        return stl_bytes([piece.shape for piece in model.pieces])
    cq = cadquery()
    assembly = cq.Assembly(name=f"belt {model.id}".replace("/", "-"))
    for piece in model.pieces:
        colour, solids = cq.Color(*piece.colour), piece.shape.Solids()
        if len(solids) == 1:
            assembly.add(solids[0], name=piece.name, color=colour)
            continue
        several = cq.Assembly(name=piece.name)
        for number, solid in enumerate(solids, 1):
            several.add(solid, name=f"{piece.name} {number}", color=colour)
        assembly.add(several, name=piece.name)
    return step_bytes(assembly) if suffix == ".step" else _glb_bytes(assembly)


def check_suffix(suffix: str, allowed: Sequence[str], what: str = "a model") -> None:
    """Refuse a suffix nothing is written as.

    Raises:
        OutputError: it is not among those allowed.
    """
    if suffix not in allowed:
        found = f'"{suffix}"' if suffix else "no suffix"
        raise OutputError(f"{what} is written as {', '.join(allowed)}; found {found}; rename the file")


def step_bytes(assembly: Any) -> bytes:
    """Return an assembly as STEP, in mm, its pieces' names and colours kept.

    Args:
        assembly: the modeller's.

    Raises:
        OutputError: the modeller cannot write it.
    """
    text = _written(assembly, "step").decode("utf-8", "surrogateescape")
    # A file says nothing of when it was made: two of one belt differ by the modeller's last digits at most.
    text = _STAMP.sub("'1970-01-01T00:00:00'", text, count=1)
    return text.replace(";", f";\n/* {MARK} */", 1).encode("utf-8", "surrogateescape")


def stl_bytes(shapes: Sequence[Any]) -> bytes:
    """Return shapes as one binary STL mesh, in mm.

    Args:
        shapes: the modeller's.
    """
    import numpy as np

    faces = []
    for shape in shapes:
        vertices, triangles = shape.tessellate(MESH, TURN)
        points = np.array([vertex.toTuple() for vertex in vertices])
        faces.append(points[np.array(triangles)])
    corners = np.concatenate(faces)
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1)
    sound = lengths > 0
    corners, normals = corners[sound], normals[sound] / lengths[sound, None]
    record = np.zeros(len(corners), dtype=[("floats", "<f4", (12,)), ("spare", "<u2")])
    record["floats"] = np.concatenate([normals, corners.reshape(-1, 9)], axis=1)
    return MARK.encode().ljust(80) + struct.pack("<I", len(record)) + record.tobytes()


def _glb_bytes(assembly: Any) -> bytes:
    """Return an assembly as binary glTF, the mark in the note of what wrote it."""
    data = _written(assembly, "glb")
    length, kind = struct.unpack_from("<I4s", data, 12)
    if data[:4] != b"glTF" or kind != b"JSON":
        raise OutputError("the modeller wrote no glTF it can be marked in; write .step instead")
    content = json.loads(data[20 : 20 + length])
    content["asset"] = {**content["asset"], "generator": MARK}
    content["nodes"][content["scenes"][0]["nodes"][0]]["scale"] = [0.001] * 3  # glTF counts in metres
    for node in content["nodes"]:
        for primitive in content["meshes"][node["mesh"]]["primitives"] if "mesh" in node else ():
            look = content["materials"][primitive["material"]]["pbrMetallicRoughness"]
            metal = node["name"].startswith(METALS)
            look |= {"metallicFactor": 0.9 if metal else 0.0, "roughnessFactor": 0.35 if metal else 0.85}
    head = json.dumps(content, separators=(",", ":")).encode()
    head += b" " * (-len(head) % 4)
    rest = data[20 + length :]
    total = 20 + len(head) + len(rest)
    return struct.pack("<4sIII4s", b"glTF", 2, total, len(head), b"JSON") + head + rest


def _written(assembly: Any, suffix: str) -> bytes:
    """Return what the modeller writes of an assembly, by way of a file of its own."""
    from importlib import import_module

    exporters = import_module("cadquery.occ_impl.exporters.assembly")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"belt.{suffix}"
        if suffix == "step":
            done = exporters.exportAssembly(assembly, str(path))
        else:
            done = exporters.exportGLTF(assembly, str(path), True, MESH, TURN)
        if not done or not path.is_file():
            raise OutputError(f"the modeller could not write .{suffix}; is the disk of {folder} full?")
        return path.read_bytes()
