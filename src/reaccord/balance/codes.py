"""Three-digit codes for vials, so that nobody who smells them knows which is which (common practice, no source)."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterable

LEAST, MOST = 100, 999


def seed_of(*words: str) -> int:
    """Return a seed that follows from words alone, the same on every machine."""
    return int.from_bytes(hashlib.sha256("\n".join(words).encode()).digest()[:8], "big")


def three_digit_codes(count: int, seed: int, taken: Iterable[int] = ()) -> list[str]:
    """Return so many different codes from 100 to 999.

    Raises
    ------
    ValueError
        If there are not so many.
    """
    free = sorted(set(range(LEAST, MOST + 1)) - set(taken))
    if count > len(free):
        raise ValueError(f"there are only {len(free)} three-digit codes, not {count}")
    return [str(code) for code in random.Random(seed).sample(free, count)]
