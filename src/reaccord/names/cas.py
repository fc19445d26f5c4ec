"""CAS Registry Numbers: one spelling, and the check digit.

A number has up to ten digits in three groups, the last a check digit: each digit before it times its
place counted from the right, summed, modulo 10. Source: CAS, "Check Digit Verification of CAS Registry
Numbers", https://www.cas.org/support/documentation/chemical-substances/checkdig.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_SHAPE = re.compile(r"[1-9]\d{1,6}-\d{2}-\d")
_WRITTEN = re.compile(r"(?:cas\D*)?0*([1-9]\d{1,6}-\d{2}-\d)", re.IGNORECASE)


@lru_cache(maxsize=16384)
def normalise_cas(text: str) -> str:
    """Return the number in its usual spelling: plain hyphens, no blanks, no `CAS`, no leading zeros.

    What does not look like a CAS number is returned stripped and otherwise as it was.
    """
    stripped = text.strip()
    if not stripped[-1:].isdigit():
        return stripped
    plain = "".join("-" if unicodedata.category(c) == "Pd" or c == "−" else c for c in text)
    written = _WRITTEN.fullmatch("".join(plain.split()))
    return written.group(1) if written else stripped


def looks_like_cas(text: str) -> bool:
    """Tell whether the text has the shape of a CAS number, whatever its check digit."""
    return _SHAPE.fullmatch(normalise_cas(text)) is not None


def check_digit_ok(cas: str) -> bool:
    """Tell whether the text has the shape of a CAS number and its check digit fits."""
    number = normalise_cas(cas)
    if not _SHAPE.fullmatch(number):
        return False
    *digits, check = (int(c) for c in number if c != "-")
    weighted = sum(place * digit for place, digit in enumerate(reversed(digits), start=1))
    return weighted % 10 == check
