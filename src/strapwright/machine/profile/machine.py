"""Machine profiles: the TOML file that says what a machine is, cuts away and how it is driven."""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from strapwright.core.errors import FileProblems
from strapwright.core.text import quoted
from strapwright.core.units import MM_PER_INCH, Units
from strapwright.files.messages import nearest
from strapwright.files.read import TOML_LIMIT_MB, digest_of, read_text, read_toml
from strapwright.files.validate import schema_of, validate
from strapwright.machine.profile.tables import MachineFile
from strapwright.machine.profile.tool_tables import GcodeLines, Laser
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from strapwright.machine.profile.kerf_table import KerfRow, ScaleRow
    from strapwright.machine.profile.tables import FormatName, MachineTable, OperationTable, OperationTables
    from strapwright.machine.profile.tool_tables import Blade, Bridges, Serial
    from strapwright.trade.safety import CutterKind

_SHOWN_DECIMALS: Final = {"mm": 2, "in": 4}
"""Decimals of a position as a machine's display has them."""


@dataclass(frozen=True)
class Axes:
    """Where the machine's own coordinates lie on the bed.

    Bed coordinates are millimetres from the front left corner, x to the right and y to the back. The
    machine's own are ``x_sign · (x − x_zero)`` and ``y_sign · (y − y_zero)``; where just one sign is
    −1 the picture is mirrored, and a counter-clockwise arc turns clockwise in the machine's numbers.

    Args:
        x_zero: bed x where the machine's x is 0, mm.
        y_zero: bed y where the machine's y is 0, mm.
        x_sign: 1 where the machine's x counts up to the right, −1 to the left.
        y_sign: 1 where the machine's y counts up to the back, −1 to the front.
    """

    x_zero: float
    y_zero: float
    x_sign: Literal[1, -1]
    y_sign: Literal[1, -1]

    @property
    def mirrored(self) -> bool:
        """Whether arcs turn the other way in the machine's numbers."""
        return self.x_sign != self.y_sign

    def of(self, x: float, y: float) -> tuple[float, float]:
        """Return the machine's own coordinates of a point of the bed, mm.

        Example:
            >>> Axes(600.0, 0.0, -1, 1).of(500.0, 30.0)
            (100.0, 30.0)
        """
        return self.x_sign * (x - self.x_zero), self.y_sign * (y - self.y_zero)

    def bed(self, x: float, y: float) -> tuple[float, float]:
        """Return the point of the bed at the machine's own coordinates, mm.

        Example:
            >>> Axes(600.0, 0.0, -1, 1).bed(100.0, 30.0)
            (500.0, 30.0)
        """
        return self.x_zero + self.x_sign * x, self.y_zero + self.y_sign * y


@dataclass(frozen=True)
class Machine:
    """A machine as the plan needs it.

    Args:
        name: as it is told on sheets and in messages.
        kind: laser or drag knife.
        bed: reach along x and y, mm.
        pass_through: whether a hide may be drawn through.
        formats: the formats its software reads.
        corner: how the tool goes round an outer corner.
        least_hole: diameter of the smallest round hole it makes, mm; None where only the kerf limits it.
        kerf: the measured rows, those of earlier days among them.
        blade: of a drag knife, None for a laser.
        operation: layer, colour, pen and drive of each operation.
        digest: SHA-256 of the profile's file; empty for one made in code.
        origin: the bed's corner where its own x and y are 0.
        axes: the same in numbers, with the way each axis counts.
        units: what the numbers in files that drive it count.
        rapid_mm_s: speed of travel, mm/s; None where the profile does not say.
        acceleration_mm_s2: mm/s²; None where the profile does not say.
        max_power: a laser's S word at 100 %; None where the profile does not say.
        registration: by what a hide is put back between two windows.
        pin_pitch: from pin to pin along the bed, mm; None without pins.
        window_overlap: how much of one window the next reaches again, mm.
        window_margin: how far a window stays from the bed's edge, mm.
        share_edges: whether neighbouring straps may share one cut.
        ends_only: whether long edges are left to the strap cutter.
        max_thickness: thickest leather it takes, by blade or by ``[limits]``, mm; None: not limited.
        kerf_max_age_days: how old a measured kerf may be; None: any age.
        scale: the measured rows of the axes' scale, in the file's order.
        bridges: gaps that hold a part in the hide; None for none.
        laser: how its beam enters a cut and what it has beside it; as if its table were empty where none is.
        gcode: the lines it wants at the start and the end of G-code.
        svg_stroke: how wide lines are in SVG, mm.
        group_by: whether it makes one part after another, or all that one tool makes before the next tool.
        tool_change: whether the next tool is put in by hand.
        hpgl_units: the furthest it goes from its zero in HP-GL, plotter units.
        serial: how it is spoken to over a serial line; None where it is not.
        notes: what was noticed on reading the profile.
        source: the shipped name or the file it was read from, as it was given.
    """

    name: str
    kind: CutterKind
    bed: tuple[float, float]
    pass_through: bool
    formats: tuple[FormatName, ...]
    corner: Literal["round", "miter"]
    least_hole: float | None
    kerf: tuple[KerfRow, ...]
    blade: Blade | None
    operation: OperationTables
    digest: str = ""
    origin: Literal["front_left", "front_right", "back_left", "back_right"] = "front_left"
    axes: Axes = Axes(0.0, 0.0, 1, 1)
    units: Units = "mm"
    rapid_mm_s: float | None = None
    acceleration_mm_s2: float | None = None
    max_power: float | None = None
    registration: Literal["scrap", "bed_pins"] = "scrap"
    pin_pitch: float | None = None
    window_overlap: float = 30.0
    window_margin: float = 10.0
    share_edges: bool = False
    ends_only: bool = False
    max_thickness: float | None = None
    kerf_max_age_days: int | None = None
    scale: tuple[ScaleRow, ...] = ()
    bridges: Bridges | None = None
    laser: Laser = field(default_factory=Laser)
    gcode: GcodeLines = field(default_factory=GcodeLines)
    svg_stroke: float = 0.1
    group_by: Literal["part", "tool"] = "part"
    tool_change: Literal["none", "by_hand"] = "none"
    hpgl_units: int = 32_767
    serial: Serial | None = None
    source: str = field(default="", compare=False)

    @property
    def frame(self) -> str:
        """What the numbers this machine shows are: unit and corner, as ``mm from the back left corner``."""
        unit = "inches" if self.units == "in" else "mm"
        return f"{unit} from the {self.origin.replace('_', ' ')} corner"

    @property
    def frame_axes(self) -> str:
        """Which way this machine's numbers count up."""
        x = "right" if self.axes.x_sign > 0 else "left"
        return f"x to the {x}, y to the {'back' if self.axes.y_sign > 0 else 'front'}"

    def shown(self, x: float, y: float) -> tuple[float, float]:
        """Return what the machine shows with its tool over a point of the bed: its own frame and units.

        Args:
            x: of the point, from the bed's front left corner to the right, mm.
            y: of the point, to the back, mm.
        """
        unit = MM_PER_INCH if self.units == "in" else 1.0
        own_x, own_y = self.axes.of(x, y)
        return own_x / unit + 0.0, own_y / unit + 0.0

    def shown_words(self, x: float, y: float) -> str:
        """Return what the machine shows over a point of the bed, in words without the frame.

        Example:
            >>> read_machine("small-laser").shown_words(41.5, 60.2)
            'x 41.50, y 339.80'
        """
        decimals = _SHOWN_DECIMALS[self.units]
        # Rounded and + 0.0, so that no -0.00 is read.
        own_x, own_y = (round(value, decimals) + 0.0 for value in self.shown(x, y))
        return f"x {own_x:.{decimals}f}, y {own_y:.{decimals}f}"

    def length_words(self, mm: float) -> str:
        """Return a length in the machine's units, with as many decimals as its display has.

        Example:
            >>> read_machine("small-laser").length_words(250)
            '250.00 mm'
        """
        decimals = _SHOWN_DECIMALS[self.units]
        value = mm / (MM_PER_INCH if self.units == "in" else 1.0)
        return f"{round(value, decimals) + 0.0:.{decimals}f} {self.units}"

    def settings(self, operation: Operation) -> OperationTable:
        """Return the layer, colour, pen and drive of an operation."""
        table: OperationTable = getattr(self.operation, operation.value)
        return table

    @property
    def operations(self) -> tuple[Operation, ...]:
        """What it does; the rest is left to the hand."""
        return tuple(operation for operation in Operation if self.settings(operation).enabled)


def machine_from(data: object, source: str, digest: str = "") -> Machine:
    """Check a machine profile's content and return the machine.

    Args:
        data: as read from TOML.
        source: the file's name, for messages.
        digest: SHA-256 of the file.

    Raises:
        FileProblems: every mistake, one line each.

    Example:
        >>> table = {"name": "bench laser", "kind": "laser", "bed": [600, "40 cm"]}
        >>> machine_from({"version": 2, "machine": table}, "my.toml").bed
        (600.0, 400.0)
    """
    file = validate(MachineFile, data, source)
    table, limits, blade = file.machine, file.limits, file.blade
    thickest = [t for t in (limits.max_thickness, blade.max_thickness if blade else None) if t is not None]
    return Machine(
        name=table.name,
        kind=table.kind,
        bed=table.bed,
        pass_through=table.pass_through,
        formats=table.formats,
        corner=table.corner,
        least_hole=limits.least_hole,
        kerf=file.kerf,
        blade=blade,
        operation=file.operation,
        digest=digest,
        origin=table.origin,
        axes=_axes(table),
        units=table.units,
        rapid_mm_s=table.rapid_mm_s,
        acceleration_mm_s2=table.acceleration_mm_s2,
        max_power=table.max_power,
        registration=table.registration,
        pin_pitch=table.pin_pitch,
        window_overlap=table.window_overlap,
        window_margin=table.window_margin,
        share_edges=table.share_edges,
        ends_only=table.ends_only,
        max_thickness=min(thickest, default=None),
        kerf_max_age_days=limits.kerf_max_age_days,
        scale=file.scale,
        bridges=file.bridges,
        laser=file.laser or Laser(),
        gcode=file.gcode,
        svg_stroke=table.svg_stroke,
        group_by=table.group_by,
        tool_change=table.tool_change,
        hpgl_units=limits.hpgl_units,
        serial=file.serial,
        source=source,
    )


def _axes(table: MachineTable) -> Axes:
    """Return where the machine's own coordinates lie: from the origin into the bed, unless told."""
    depth, side = table.origin.split("_")
    x_axis = table.x_axis or ("right" if side == "left" else "left")
    y_axis = table.y_axis or ("back" if depth == "front" else "front")
    return Axes(
        0.0 if side == "left" else table.bed[0],
        0.0 if depth == "front" else table.bed[1],
        1 if x_axis == "right" else -1,
        1 if y_axis == "back" else -1,
    )


def machine_schema() -> dict[str, Any]:
    """Return the JSON Schema of a machine profile, for editors."""
    return schema_of(MachineFile, "strapwright machine profile")


def _profiles() -> Path:
    """Return the folder of shipped profiles: in the package, or at the top of a working copy."""
    inside = Path(str(resources.files("strapwright") / "profiles"))
    return inside if inside.is_dir() else Path(__file__).resolve().parents[4] / "profiles"


def shipped_profiles() -> list[str]:
    """Return the names of the profiles that come with strapwright, sorted.

    Example:
        >>> shipped_profiles()
        ['closed-laser', 'drag-knife', 'knife-plotter', 'small-laser', 'wide-laser']
    """
    return sorted(path.stem for path in _profiles().glob("*.toml"))


def is_shipped(name_or_path: str) -> bool:
    """Whether this names a shipped profile, or is the path of one.

    Example:
        >>> is_shipped("wide-laser"), is_shipped("my-laser.toml")
        (True, False)
    """
    path = Path(name_or_path)
    return name_or_path in shipped_profiles() or path.resolve().parent == _profiles().resolve()


def read_machine(name_or_path: str) -> Machine:
    """Read a machine profile.

    Args:
        name_or_path: the name of a shipped profile, or the path of a ``.toml`` file.

    Raises:
        FileProblems: no such profile or file, or one with mistakes in it.

    Example:
        >>> read_machine("small-laser").bed
        (600.0, 400.0)
    """
    path = _path_of(name_or_path)
    return machine_from(read_toml(path), name_or_path, digest_of(path))


def profile_text(name_or_path: str) -> str:
    """Return a machine profile as it was written, comments and all, to be shown or copied.

    Args:
        name_or_path: the name of a shipped profile, or the path of a ``.toml`` file.

    Raises:
        FileProblems: no such profile or file.

    Example:
        >>> profile_text("drag-knife").splitlines()[0]
        '# A drag knife in the collet of a router, its spindle off and locked.'
    """
    return read_text(_path_of(name_or_path), limit_mb=TOML_LIMIT_MB)


def _path_of(name_or_path: str) -> Path:
    """Return the file of a shipped profile's name or of a path; the name goes first."""
    shipped = shipped_profiles()
    if name_or_path in shipped:
        return _profiles() / f"{name_or_path}.toml"
    path = Path(name_or_path)
    if path.suffix.casefold() == ".toml" or path.is_file():
        return path
    near = nearest(name_or_path, shipped)
    hint = f' did you mean "{near}"?' if near else ""
    raise FileProblems(
        (
            (
                f"machine {quoted(name_or_path)}: no such profile;{hint} expected one of "
                f"{', '.join(shipped)}, or the path of a .toml file"
            ),
        )
    )
