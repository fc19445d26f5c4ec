"""Numbers in the words of an option: gram, shares, seconds, whole numbers; what is none is told with what to write."""

from __future__ import annotations

from reaccord.findings import UsageError


def gap_of(text: str | None) -> float:
    """Read `--gap`: a fraction, or a share with its sign.

    Raises
    ------
    UsageError
        If it is neither, or not from 0 to below 1.
    """
    if text is None:
        return 1e-3
    value, plain = number_or_share("--gap", text, 'Write 0.001 or "0.1 %".')
    if not 0 <= value < 1:
        sign = " A percentage needs its sign." if plain and value >= 1 else ""
        raise UsageError(f"--gap must be from 0 to below 1 (100 %), not {text}.{sign}")
    return value


def seconds_of(text: str | None) -> float:
    """Read `--seconds`.

    Raises
    ------
    UsageError
        If it is not a number above zero.
    """
    from reaccord.tables.cells import BadCell, number

    if text is None:
        return float("inf")
    try:
        value = number(text.strip())
    except BadCell as fault:
        raise UsageError(_with_cure("--seconds", fault, "Write seconds as a plain number, as 60.")) from None
    if value <= 0:
        raise UsageError(f"--seconds must be above 0, not {text}.")
    return value


def whole_of(option: str, text: str, least: int) -> int:
    """Read an option that is a whole number of at least so many.

    Raises
    ------
    UsageError
        If it is none.
    """
    plain = text.strip()
    if not (plain.isascii() and plain.isdigit()) or int(plain) < least:
        raise UsageError(f'{option} takes a whole number of at least {least}, not "{text}".')
    return int(plain)


def grams_of(option: str, text: str | None) -> float | None:
    """Read an option that is a number of grams above zero; None where it is not given.

    Raises
    ------
    UsageError
        If it is none, or more than anybody weighs.
    """
    from reaccord.tables.cells import BadCell, number
    from reaccord.tables.columns import LARGEST

    if text is None:
        return None
    try:
        grams = number(without_gram(text))
    except BadCell as fault:
        raise UsageError(f"{option}: {fault}") from None
    if not 0 < grams <= LARGEST:
        raise UsageError(f"{option} must be above 0 and at most {LARGEST:,.0f} g, not {text}.")
    return grams


def without_gram(text: str) -> str:
    """Return a number of grams without its unit."""
    return text.strip().removesuffix("g").rstrip()


def share_of(option: str, text: str) -> float:
    """Read an option that is a share with its sign, above 0 and at most 100 %.

    Raises
    ------
    UsageError
        If it is none.
    """
    value, plain = number_or_share(option, text, 'Write it as "10 %".')
    if plain or not 0 < value <= 1:
        raise UsageError(f'{option} takes a share above 0 and at most 100 %, as "10 %", not "{text}".')
    return value


def share_or_gram_of(option: str, text: str) -> tuple[float | None, float | None]:
    """Read an option that is a share with its sign, or gram.

    Raises
    ------
    UsageError
        If it is neither, or not above 0.
    """
    words = text.strip()
    if not words.endswith("g"):
        return share_of(option, words), None
    value, plain = number_or_share(option, words.removesuffix("g"), 'Write it as "20 %" or "2 g".')
    if not plain or value <= 0:
        raise UsageError(f'{option} takes a share ("20 %") or gram ("2 g") above 0, not "{text}".')
    return None, value


def within_of(text: str) -> tuple[float | None, float | None]:
    """Read `--within`: a deviation (a plain number), or a share above the closest (with its sign).

    Raises
    ------
    UsageError
        If it is neither, or below 0.
    """
    value, plain = number_or_share("--within", text, 'Write a deviation (0.1), or "5 %" above the closest.')
    if value < 0:
        raise UsageError(f"--within must not be below 0, not {text}.")
    return (value, None) if plain else (None, value)


def number_or_share(option: str, text: str, cure: str) -> tuple[float, bool]:
    """Return a plain number as it is, or a share with its sign as a fraction, and whether it was plain."""
    from reaccord.tables.cells import BadCell, number, share

    words = text.strip()
    plain = not words.endswith(("%", "‰", "ppm"))
    try:
        return (number if plain else share)(words), plain
    except BadCell as fault:
        raise UsageError(_with_cure(option, fault, cure)) from None


def _with_cure(option: str, fault: Exception, cure: str) -> str:
    """Return what is wrong and what to do; a message that says it already says it once."""
    return f"{option}: {fault}" if "; write " in str(fault) else f"{option}: {fault} {cure}"
