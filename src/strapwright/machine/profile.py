"""Machine profiles: the TOML file that says what a machine is, cuts away and how it is driven."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from strapwright.errors import FileProblems
from strapwright.files.read import TOML_LIMIT_MB, digest_of, read_text, read_toml
from strapwright.files.validate import schema_of, validate
from strapwright.files.wording import nearest
from strapwright.machine.profile_tables import MachineFile
from strapwright.units import quoted

if TYPE_CHECKING:
    from strapwright.machine.profile_tables import (
        Blade,
        FormatName,
        KerfRow,
        OperationTable,
        OperationTables,
    )
    from strapwright.parts.part import Operation
    from strapwright.trade.safety import CutterKind


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
        kerf: the measured rows.
        blade: of a drag knife, None for a laser.
        operation: layer, colour and drive of each operation.
        digest: SHA-256 of the profile's file; empty for one made in code.
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

    def settings(self, operation: Operation) -> OperationTable:
        """Return the layer, colour and drive of an operation."""
        table: OperationTable = getattr(self.operation, operation.value)
        return table


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
        >>> machine_from({"machine": table}, "my.toml").bed
        (600.0, 400.0)
    """
    file = validate(MachineFile, data, source)
    table = file.machine
    return Machine(
        table.name,
        table.kind,
        table.bed,
        table.pass_through,
        table.formats,
        table.corner,
        table.least_hole,
        file.kerf,
        file.blade,
        file.operation,
        digest,
    )


def machine_schema() -> dict[str, Any]:
    """Return the JSON Schema of a machine profile, for editors."""
    return schema_of(MachineFile, "strapwright machine profile")


def _profiles() -> Path:
    """Return the folder of shipped profiles: in the package, or at the top of a working copy."""
    inside = Path(str(resources.files("strapwright") / "profiles"))
    return inside if inside.is_dir() else Path(__file__).resolve().parents[3] / "profiles"


def shipped_profiles() -> list[str]:
    """Return the names of the profiles that come with strapwright, sorted.

    Example:
        >>> shipped_profiles()
        ['drag-knife', 'small-laser', 'wide-laser']
    """
    return sorted(path.stem for path in _profiles().glob("*.toml"))


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
