"""What every module of routes is made of: the bench it serves."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from strapwright.page.server.bench import Bench


class Routes:
    """Some of the page's addresses and what they answer.

    Args:
        bench: the shop's page.
    """

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._shop = bench.shop
