"""Work in a process of its own, bounded in time and memory: what somebody sent is opened in one."""

from __future__ import annotations

import contextlib
import multiprocessing
from typing import TYPE_CHECKING, Any, TypeVar

from strapwright.core.errors import StrapwrightError

if TYPE_CHECKING:
    from collections.abc import Callable
    from multiprocessing.connection import Connection

Made = TypeVar("Made")


def in_bounds(
    function: Callable[..., Made],
    *arguments: Any,
    seconds: float,
    memory: int | None = None,
    work: int | None = None,
) -> Made:
    """Return what a function makes of its arguments in a process of its own.

    Args:
        function: of a module.
        arguments: it is called with.
        seconds: of waiting.
        memory: it may take, bytes of addresses, where the system can limit it; None for any.
        work: seconds of a processor's time it may take, likewise; None as long as it is waited for.

    Raises:
        TimeoutError: it takes longer.
        MemoryError: it takes more, or ends without an answer.
        StrapwrightError: it refuses them.
    """
    context = multiprocessing.get_context("spawn")
    mine, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_answer, args=(theirs, memory, work, function, arguments), daemon=True)
    process.start()
    theirs.close()
    try:
        if not mine.poll(seconds):
            raise TimeoutError
        made = mine.recv()
    except EOFError:
        raise MemoryError from None
    finally:
        process.kill()
        process.join()
        mine.close()
    if isinstance(made, StrapwrightError):
        raise made
    return made  # type: ignore[no-any-return]


def _answer(
    pipe: Connection,
    memory: int | None,
    work: int | None,
    function: Callable[..., Any],
    arguments: tuple[Any, ...],
) -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):  # only where there is such a bound
        import resource

        if memory is not None:
            resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        if work is not None:
            resource.setrlimit(resource.RLIMIT_CPU, (work, work))
    with contextlib.suppress(MemoryError):
        try:
            pipe.send(function(*arguments))
        except StrapwrightError as error:
            pipe.send(error)
