"""The errors strapwright raises: one root, few children, each also the builtin it is.

A message has what is wrong, the value with its unit, what is allowed, and what to do.
Only the command line turns an error into an exit status.
"""

from __future__ import annotations

import os
from contextlib import contextmanager
from typing import TYPE_CHECKING

from strapwright.core.text import printable, printable_lines

if TYPE_CHECKING:
    from collections.abc import Iterator


class StrapwrightError(Exception):
    r"""Root of every error strapwright raises on purpose.

    A message may hold what a file or a name holds; whatever that is, only a line end ends a line of it.

    Example:
        >>> str(StrapwrightError("no hide named a\x1b[2J\u2028b"))
        'no hide named a\\x1b[2J\\u2028b'
    """

    def __init__(self, message: str = "") -> None:
        super().__init__(printable_lines(message))


def os_reason(error: Exception) -> str:
    """Return why the operating system refused something, in its words and small letters.

    Example:
        >>> os_reason(FileNotFoundError(2, "No such file or directory"))
        'no such file or directory'
    """
    number = getattr(error, "errno", None)
    return (os.strerror(number) if number else str(error)).lower()


class UnitError(StrapwrightError, ValueError):
    """A length, thickness or angle that cannot be read."""


class FileProblems(StrapwrightError, ValueError):
    """Everything that is wrong with one file a person wrote, reported together.

    Args:
        problems: one line each, ready to print: ``file: key: found …; expected …``.
    """

    def __init__(self, problems: tuple[str, ...]) -> None:
        self.problems = tuple(map(printable, problems))
        super().__init__("\n".join(self.problems))

    def __reduce__(self) -> tuple[type[FileProblems], tuple[tuple[str, ...]]]:
        return FileProblems, (self.problems,)


class GeometryError(StrapwrightError, ValueError):
    """A shape that cannot be had: an offset that would split, a contour that crosses itself."""


class PartError(StrapwrightError, ValueError):
    """Numbers that cannot make a sound part; names the field, the value and what is allowed."""


class NestError(StrapwrightError, ValueError):
    """A hide or an order that cannot be nested at all."""


class PlanError(StrapwrightError, ValueError):
    """A layout this machine cannot cut as asked."""


class Problems(list[str]):
    """Everything a machine cannot do as asked, gathered to be refused together, a line each."""

    @contextmanager
    def gathered(self) -> Iterator[None]:
        """Take up the message of a `PlanError` that is raised within."""
        try:
            yield
        except PlanError as error:
            self.append(str(error))

    def refuse(self) -> None:
        """Raise a `PlanError` that says each of them once, if there are any."""
        if self:
            raise PlanError("\n".join(dict.fromkeys(self)))


class SafetyError(PlanError):
    """A plan that is refused because it could hurt someone."""


class PaperError(StrapwrightError, ValueError):
    """An unknown paper, or one that a pattern does not fit on."""


class OutputError(StrapwrightError, OSError):
    """A file that cannot be written without losing something of the user's."""


class ProofError(StrapwrightError, RuntimeError):
    """A written file that does not read back as the plan it was written from."""


class SendError(StrapwrightError, RuntimeError):
    """A file that may not be sent to a machine, or whose sending was broken off; says where."""


class PhotoError(StrapwrightError):
    """A photograph that no hide can be measured from."""
