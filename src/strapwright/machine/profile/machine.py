"""Machine profiles: the TOML file that says what a machine is and how it is driven, read and added to."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

from strapwright.core.errors import FileProblems
from strapwright.core.text import quoted
from strapwright.core.units import MM_PER_INCH
from strapwright.files.atomic_write import write_whole
from strapwright.files.messages import nearest
from strapwright.files.read import TOML_LIMIT_MB, read_bytes, read_text, read_toml
from strapwright.files.toml_rows import with_rows_added
from strapwright.files.validate import validate
from strapwright.machine.profile.machine_keys import (
    KerfRow,
    Limits,
    MachineFile,
    MachineTable,
    OperationTables,
    ScaleRow,
)
from strapwright.machine.profile.tool_keys import Blade, Bridges, GcodeLines, Laser, Serial
from strapwright.parts.part import Operation

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from strapwright.machine.profile.machine_keys import OperationTable


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


class Machine(MachineTable):
    """A machine: the keys of its ``[machine]`` table, its profile's other tables, and what follows from them.

    Args:
        limits: what it must not be asked for.
        kerf: the measured rows, those of earlier days among them.
        scale: the measured rows of the axes' scale, in the file's order.
        blade: of a drag knife, None for a laser.
        bridges: gaps that hold a part in the hide; None for none.
        laser: how its beam enters a cut and what it has beside it; as if its table were empty where none is.
        gcode: the lines it wants at the start and the end of G-code.
        serial: how it is spoken to over a serial line; None where it is not.
        operation: layer, colour, pen and drive of each operation.
        source: the shipped name or the file it was read from, as it was given.
    """

    limits: Limits
    kerf: tuple[KerfRow, ...]
    scale: tuple[ScaleRow, ...]
    blade: Blade | None
    bridges: Bridges | None
    laser: Laser
    gcode: GcodeLines
    serial: Serial | None
    operation: OperationTables
    source: str

    @property
    def axes(self) -> Axes:
        """Where its own coordinates lie on the bed: from the origin into the bed, unless the profile says."""
        depth, side = self.origin.split("_")
        x_axis = self.x_axis or ("right" if side == "left" else "left")
        y_axis = self.y_axis or ("back" if depth == "front" else "front")
        return Axes(
            0.0 if side == "left" else self.bed[0],
            0.0 if depth == "front" else self.bed[1],
            1 if x_axis == "right" else -1,
            1 if y_axis == "back" else -1,
        )

    @property
    def max_thickness(self) -> float | None:
        """The thickest leather it takes, by blade or by ``[limits]``, mm; None: not limited."""
        both = (self.limits.max_thickness, self.blade.max_thickness if self.blade else None)
        return min((most for most in both if most is not None), default=None)

    @property
    def least_hole(self) -> float:
        """The diameter of the smallest round hole it makes, mm; 0 where only the kerf limits it."""
        return max(self.limits.least_hole or 0.0, 2 * self.blade.least_radius if self.blade else 0.0)

    @property
    def unit_mm(self) -> float:
        """What 1 is in files that drive it and on its display, mm."""
        return MM_PER_INCH if self.units == "in" else 1.0

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
        own_x, own_y = self.axes.of(x, y)
        return own_x / self.unit_mm + 0.0, own_y / self.unit_mm + 0.0

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
        return f"{round(mm / self.unit_mm, decimals) + 0.0:.{decimals}f} {self.units}"

    def settings(self, operation: Operation) -> OperationTable:
        """Return the layer, colour, pen and drive of an operation."""
        table: OperationTable = getattr(self.operation, operation.value)
        return table

    def with_cut(self, changes: Mapping[str, object]) -> Machine:
        """Return the machine with other keys of ``[operation.cut]``."""
        cut = self.operation.cut.model_copy(update=changes)
        return self.model_copy(update={"operation": self.operation.model_copy(update={"cut": cut})})

    @property
    def operations(self) -> tuple[Operation, ...]:
        """What it does; the rest is left to the hand."""
        return tuple(operation for operation in Operation if self.settings(operation).enabled)


def machine_from(data: object, source: str) -> Machine:
    """Check a machine profile's content and return the machine.

    Args:
        data: as read from TOML.
        source: the file's name, for messages.

    Raises:
        FileProblems: every mistake, one line each.

    Example:
        >>> table = {"name": "bench laser", "kind": "laser", "bed": [600, "40 cm"]}
        >>> machine_from({"machine": table}, "my.toml").bed
        (600.0, 400.0)
    """
    tables = dict(validate(MachineFile, data, source))
    own = dict(tables.pop("machine"))
    return Machine.model_construct(**own, **tables | {"laser": tables["laser"] or Laser()}, source=source)


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
    return machine_from(read_toml(path), name_or_path)


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
    what = f"no such profile;{hint} expected one of {', '.join(shipped)}, or the path of a .toml file"
    raise FileProblems((f"machine {quoted(name_or_path)}: {what}",))


def append_rows(source: str, rows: Sequence[tuple[str, Mapping[str, object]]]) -> None:
    """Append rows to tables of a machine file, whole or not at all.

    The file is changed only by the rows that are added; each follows the last one of its kind, or
    stands at the end where it is the first.

    Args:
        source: the file's path as it was given; never a shipped profile.
        rows: the table's name, ``"kerf"`` or ``"scale"``, and its keys in the order they are written.

    Raises:
        FileProblems: a shipped profile, a file with mistakes, or one that would have some with the
            rows in it.
        OutputError: it cannot be written.
    """
    # The file and its rows were asked for by name, and nothing else that stands in it is touched.
    write_whole({Path(source): with_rows(source, rows)[1]}, force=True)


def with_rows(source: str, rows: Sequence[tuple[str, Mapping[str, object]]]) -> tuple[bytes, bytes]:
    """Return a machine file as it stands and as it is with rows added; nothing is written.

    Args:
        source: the file's path as it was given; never a shipped profile.
        rows: as for `append_rows`.

    Raises:
        FileProblems: as for `append_rows`.
    """
    check_own(source)
    old = read_bytes(Path(source))
    text = old.decode("utf-8-sig")
    after, new_text = with_rows_added(text, rows, source, ("kerf", "scale"))
    machine_from(after, source)
    mark = b"\xef\xbb\xbf" if old.startswith(b"\xef\xbb\xbf") else b""
    return old, mark + new_text.encode()


def check_own(source: str) -> None:
    """Refuse to write to a shipped profile: it is copied first.

    Raises:
        FileProblems: it is one, by its name or by its path.
    """
    if is_shipped(source):
        name = Path(source).stem
        what = (
            f"{source}: a shipped profile is never written to; copy it first: "
            f"strapwright machines copy {name} my-{name}.toml (then record to --machine my-{name}.toml)"
        )
        raise FileProblems((what,))
