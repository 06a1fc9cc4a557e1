"""Small immutable values that are written as one short text, such as ``F#4`` or ``6/8``."""

from __future__ import annotations

from typing import Any, NoReturn, Self


class TextValue:
    """Base of values with a text form: `parse` and `str` are exact inverses.

    Subclasses list their fields in ``__slots__`` and fill them once with `_fill`.
    The lesson file stores the text, so that a person can read and diff it.
    """

    __slots__: tuple[str, ...] = ()

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read the text form; raises ValueError with a sentence when it is not one."""
        raise NotImplementedError

    def _fill(self, *values: object) -> None:
        for name, value in zip(self.__slots__, values, strict=True):
            object.__setattr__(self, name, value)

    def _values(self) -> tuple[Any, ...]:
        return tuple(getattr(self, name) for name in self.__slots__)

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"{type(self).__name__} is immutable")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError(f"{type(self).__name__} is immutable")

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        if type(other) is not type(self):
            return NotImplemented
        return self._values() == other._values()

    def __hash__(self) -> int:
        return hash((type(self).__name__, self._values()))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({str(self)!r})"

    def __reduce__(self) -> tuple[Any, ...]:
        return (type(self).parse, (str(self),))
