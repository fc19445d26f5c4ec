"""Numbers with which the code that states a study runs in exact arithmetic.

That code is written for floats, its constants (`1.0`, `0.0`) are floats and its formats too. `Exact` stands in for
them: a fraction that takes a float it meets for the decimal number that was written, and stays a fraction.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from fractions import Fraction
from typing import Any


class Exact(Fraction):
    """A fraction that stays one: beside a float it takes that float's shortest decimal."""

    def __add__(self, other: Any) -> Any:
        return Exact(Fraction(self) + fraction(other))

    def __sub__(self, other: Any) -> Any:
        return Exact(Fraction(self) - fraction(other))

    def __rsub__(self, other: Any) -> Any:
        return Exact(fraction(other) - Fraction(self))

    def __mul__(self, other: Any) -> Any:
        return Exact(Fraction(self) * fraction(other))

    def __truediv__(self, other: Any) -> Any:
        return Exact(Fraction(self) / fraction(other))

    def __rtruediv__(self, other: Any) -> Any:
        return Exact(fraction(other) / Fraction(self))

    def __neg__(self) -> Any:
        return Exact(-Fraction(self))

    __radd__, __rmul__ = __add__, __mul__

    def __format__(self, spec: str) -> str:
        return format(float(self), spec)


def fraction(number: Any) -> Fraction:
    """Return a number as a plain fraction, a float as its shortest decimal."""
    return Fraction(repr(number)) if isinstance(number, float) else Fraction(number)


def exactly(value: Any) -> Any:
    """Return records, tuples and mappings with every float in them as `Exact`."""
    if isinstance(value, float):
        return Exact(fraction(value))
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {field.name: exactly(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return dataclasses.replace(value, **fields)
    if isinstance(value, Mapping):
        return {key: exactly(entry) for key, entry in value.items()}
    if isinstance(value, tuple):
        entries = map(exactly, value)
        return type(value)(*entries) if hasattr(value, "_fields") else tuple(entries)
    return value
