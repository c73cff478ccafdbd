"""A property computed once, without a lock."""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, TypeVar, overload

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any, Self

T = TypeVar("T")


class lazy(Generic[T]):  # noqa: N801 - reads as a decorator, as `property` does
    """A property computed when first asked for and kept in the instance.

    It is `functools.cached_property` without the lock that one takes until Python 3.12, on which thousands of
    short contours spend more than on their figures.
    """

    def __init__(self, compute: Callable[[Any], T]) -> None:
        self.compute = compute
        self.name = compute.__name__
        self.__doc__ = compute.__doc__

    @overload
    def __get__(self, instance: None, owner: type) -> Self: ...
    @overload
    def __get__(self, instance: object, owner: type) -> T: ...
    def __get__(self, instance: object | None, owner: type) -> Self | T:
        if instance is None:
            return self
        value = instance.__dict__[self.name] = self.compute(instance)
        return value
