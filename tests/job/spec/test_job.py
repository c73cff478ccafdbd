from __future__ import annotations

import inspect
import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from tests.job.jobs import BELT, GOOD, changed

import strapwright
from strapwright.api import schemas
from strapwright.job.catalogue.buckle import Buckle
from strapwright.job.spec.fittings import Keeper
from strapwright.job.spec.job import Job, read_job
from strapwright.job.spec.strap import Belt
from strapwright.job.spec.strap_end import TIP_MEASURES, TipShape
from strapwright.rules.leather import Tannage

if TYPE_CHECKING:
    from collections.abc import Callable

STARTER = Path(strapwright.__file__).parent / "starter"


def test_a_job_with_every_usual_key_is_read(write: Callable[..., Path]) -> None:
    job = read_job(
        write(
            '[job]\nname = "stage crew, autumn order"\n'
            '[leather]\nthickness = "3.6 mm"\ntannage = "chrome"\nprice_per_m2 = 95.0\n'
            '[[belt]]\nid = "ines"\nquantity = 2\nsize = { worn_to_hole = "1015 mm" }\n'
            'buckle = "double-46"\ntip = "english_point"\nholes = { count = 7, spacing = "25 mm" }\n'
            'fastener = "screw_post"\nkeeper = { width = "20 mm", join = "butt" }\n'
        )
    )
    (belt,) = job.belts
    assert job.name == "stage crew, autumn order"
    assert job.leather_of(belt).tannage is Tannage.CHROME
    assert job.leather_of(belt).thickness == 3.6
    assert belt.buckle.prong_spacing == 20.0
    assert belt.buckle.name == "double-46"
    assert (belt.size.worn_to_hole, belt.holes.count, belt.holes.spacing) == (1015.0, 7, 25.0)
    assert belt.keeper == Keeper(width=20.0, join="butt")
    assert belt.hole_in_use == 4


def test_what_is_left_out_has_its_default(write: Callable[..., Path]) -> None:
    job = read_job(write(GOOD, "autumn order.toml"))
    (belt,) = job.belts
    assert job.name == "autumn order"
    assert (belt.quantity, belt.tip.shape, belt.holes.count) == (1, "english_point", 7)
    assert (belt.fastener, belt.fastener_holes.rows, belt.fastener_holes.diameter) == ("screw_post", 2, None)
    assert belt.keeper == Keeper()
    assert belt.crease is belt.turn_back is belt.fastener_holes.across is None
    assert belt.corner_radius == 4.0
    house = job.house
    assert (house.strap_clearance, house.neutral_axis, house.fold_play) == (2.0, 0.5, 0.25)
    assert (house.keeper_ease_width, house.keeper_ease_height) == (1.0, 1.5)
    assert (job.layout.gap, job.layout.margin) == (2.0, 3.0)


def test_a_belt_may_have_a_leather_of_its_own_in_part_or_whole(write: Callable[..., Path]) -> None:
    job = read_job(write(GOOD + 'leather = { thickness = "3 mm", price_per_m2 = 120 }\n'))
    leather = job.leather_of(job.belts[0])
    assert (leather.thickness, leather.tannage, leather.price_per_m2) == (3.0, Tannage.VEGETABLE, 120.0)
    job = read_job(write(BELT + 'leather = { thickness = "3 mm", tannage = "unknown" }\n'))
    assert job.leather is None
    assert job.leather_of(job.belts[0]).tannage is Tannage.UNKNOWN


def test_non_ascii_names_and_ids_are_fine(write: Callable[..., Path]) -> None:
    job = read_job(write(changed('"ines"', '"Zoë-日本"') + 'name = "Łucja Ågård 🎩"\n'))
    assert (job.belts[0].id, job.belts[0].name) == ("Zoë-日本", "Łucja Ågård 🎩")


def test_a_keeper_may_be_left_off_and_a_tip_may_be_a_table(write: Callable[..., Path]) -> None:
    (belt,) = read_job(write(GOOD + 'keeper = "none"\ntip = { shape = "square", corner_radius = 6 }\n')).belts
    assert belt.keeper is None
    assert (belt.tip.shape, belt.tip.corner_radius) == ("square", 6.0)


def test_the_hole_in_use_is_the_middle_one_or_the_one_named(write: Callable[..., Path]) -> None:
    def hole(holes: str, size: str = 'girth = "38 in"') -> int:
        text = changed('girth = "38 in"', size) + f"holes = {{ {holes} }}\n"
        return read_job(write(text)).belts[0].hole_in_use

    assert hole("count = 5") == 3
    assert hole("count = 6") == 3
    assert hole("count = 1") == 1
    assert hole("count = 5", 'girth = "38 in", hole_in_use = 5') == 5


def test_an_inline_buckle_may_have_a_flat_bar(write: Callable[..., Path]) -> None:
    text = '{ for_strap = "38 mm", bar_section = ["6 mm", "2 mm"], frame_depth = "34 mm" }'
    (belt,) = read_job(write(changed('"single-40"', text))).belts
    assert belt.buckle.bar_section == (6.0, 2.0)
    assert belt.buckle.section.perimeter == 16.0


def test_the_digest_counts_what_is_said_and_not_how(write: Callable[..., Path], tmp_path: Path) -> None:
    plain = read_job(write(GOOD)).digest
    assert read_job(write("# a comment\n" + changed('"9 oz"', '"3.571875 mm"'))).digest == plain
    assert read_job(write(changed('"38 in"', '"39 in"'))).digest != plain
    (tmp_path / "catalogue.toml").write_text(
        '[buckle.single-40]\nopening = "41 mm"\nbar_diameter = 4\nframe_depth = 36\n'
    )
    assert read_job(write(GOOD)).digest != plain


def test_a_job_made_in_a_program_is_as_strict_and_can_be_written_out_again() -> None:
    job = Job.model_validate(
        {
            "leather": {"thickness": 3.6, "tannage": "vegetable"},
            "belt": [{"id": "a", "size": {"girth": 960}, "buckle": "double-46"}],
        }
    )
    assert Job.model_validate(job.model_dump(by_alias=True)) == job
    assert Belt(id="b", size={"girth": 900}, buckle=job.belts[0].buckle).buckle is job.belts[0].buckle  # type: ignore[arg-type]


def test_the_starter_folder_is_a_sound_job_with_its_own_catalogue() -> None:
    job = read_job(STARTER / "jobs" / "first" / "job.toml")
    assert [belt.id for belt in job.belts] == ["ines", "tomasz"]
    assert job.belts[0].buckle.name == "house-45"


def test_the_shapes_a_job_may_name_are_those_there_are() -> None:
    from strapwright.parts.tips import TIPS as SHAPES

    assert set(TIP_MEASURES) == set(get_args(TipShape)) == set(SHAPES)
    for name, measures in TIP_MEASURES.items():
        assert set(measures) <= set(inspect.signature(SHAPES[name]).parameters), name


def test_the_schema_names_every_key_and_has_a_description_for_each() -> None:
    schema = schemas.schema("job")
    assert schema["title"] == "strapwright job"
    assert set(schema["properties"]) == {"job", "leather", "house", "layout", "price", "belt", "strap"}
    assert schema["anyOf"] == [{"required": ["belt"]}, {"required": ["strap"]}]
    assert "null" not in json.dumps(schema)
    tables = {**schema["$defs"], "job": schema}
    for name, table in tables.items():
        for key, about in table.get("properties", {}).items():
            beneath = tables.get(about.get("$ref", "").removeprefix("#/$defs/"), {})
            assert about.get("description") or beneath.get("description"), f"{name}.{key}"
    buckle = schema["$defs"]["Belt"]["properties"]["buckle"]["anyOf"]
    assert buckle == [{"type": "string"}, {"$ref": "#/$defs/Buckle"}]


def test_importing_the_model_brings_in_no_heavy_library() -> None:
    program = (
        "import sys, strapwright.job.spec.job\n"
        "print([m for m in ('numpy', 'shapely', 'ezdxf', 'svgpathtools', 'cadquery', 'rich', 'click')"
        " if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_seat_is_measured_or_the_hooks_or_a_prong_before_the_frame() -> None:
    plain = Buckle(opening=46, bar_diameter=5, frame_depth=40)
    assert plain.seat == 40.0 - 3.5  # the prong's default thickness
    assert plain.model_copy(update={"hole_seat": 38.0}).seat == 38.0
    hook = Buckle(for_strap=40, bar_diameter=4, prongs=0, frame_depth=70, hook_depth=52)
    assert hook.seat == 52.0
