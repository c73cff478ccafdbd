"""Layouts and pictures that many tests of the command line ask for alike are made once."""

from __future__ import annotations

import pickle
from dataclasses import replace
from functools import wraps
from typing import TYPE_CHECKING, Any

from strapwright.nesting.solver.nest import NestProgress

if TYPE_CHECKING:
    from collections.abc import Callable

MADE: dict[bytes, Any] = {}
"""What was made and told meanwhile, by what it was made of; what can be pickled no two takers share."""

HEARS = ("progress", "stage")
"""What a search tells how far it is."""

APART = (*HEARS, "executor", "at_once")
"""What a search by steps is given and its layout does not hang on."""


def kept(said: Any) -> Any:
    """What a search reports, without what gives the layout so far, which is good only during the report."""
    return replace(said, layout=None) if isinstance(said, NestProgress) else said


def as_it_is(made: Any) -> Any:
    return made


def once(
    make: Callable[..., Any],
    keep: Callable[[Any], Any] = pickle.dumps,
    give: Callable[[Any], Any] = pickle.loads,
) -> Callable[..., Any]:
    """Return a function that makes the same of the same only once; what was told is told each time."""

    @wraps(make)
    def made(*given: Any, **named: Any) -> Any:
        if named.get("steps", 1) is None:  # a search by the clock is never twice the same
            return make(*given, **named)
        asked = {name: value for name, value in named.items() if name not in APART}
        key = pickle.dumps((make.__name__, given, asked))
        if key not in MADE:
            told: list[tuple[str, Any]] = []
            heard = {
                name: lambda said, name=name: told.append((name, kept(said)))
                for name in HEARS
                if named.get(name)
            }
            MADE[key] = keep((make(*given, **named | heard), told))
        result, told = give(MADE[key])
        for name, said in told:
            named[name](said)
        return result

    return made
