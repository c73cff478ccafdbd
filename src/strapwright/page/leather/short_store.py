"""What the page holds last of some kind, by digest, until it is saved or others come."""

from __future__ import annotations

from collections import OrderedDict
from typing import Generic, TypeVar

from strapwright.core.errors import FileProblems

Held = TypeVar("Held")


class ShortStore(Generic[Held]):
    """The last things of one kind, by digest; the oldest go first.

    Args:
        most: how many are held.
        gone: what is said where one is asked for that is held no longer.
    """

    def __init__(self, most: int, gone: str) -> None:
        self._most, self._gone = most, gone
        self._held: OrderedDict[str, Held] = OrderedDict()

    def __contains__(self, digest: str) -> bool:
        return digest in self._held

    def hold(self, digest: str, one: Held) -> str:
        """Keep one as the last, and return its digest."""
        self._held[digest] = one
        self._held.move_to_end(digest)
        while len(self._held) > self._most:
            self._held.popitem(last=False)
        return digest

    def get(self, digest: str) -> Held:
        """Return one.

        Raises:
            FileProblems: it is held no longer.
        """
        try:
            return self._held[digest]
        except KeyError:
            raise FileProblems((self._gone,)) from None
