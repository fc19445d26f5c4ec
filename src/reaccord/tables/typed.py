"""Settings and cells that come as values, or typed in by hand: held to what the study file and the columns allow."""

from __future__ import annotations

import math
from collections.abc import Mapping

from reaccord.domain.settings import Settings
from reaccord.findings import Findings, Place
from reaccord.tables import cells
from reaccord.tables.cells import BadCell
from reaccord.tables.columns import Column
from reaccord.tables.study_key import TINY, Key, in_range, known_choice
from reaccord.tables.studyfile import AMOUNT, SECTIONS, doubt_amount

TOP_LEVEL = ""


def check_settings(settings: Settings, findings: Findings) -> None:
    """Say what of the settings no study file could say; shares are fractions."""
    for section, keys in SECTIONS.items():
        part = getattr(settings, section) if section else settings
        if part is not None:
            prefix = f"{section}." if section else TOP_LEVEL
            given = {key: getattr(part, key) for key in keys if key != "amount"}
            _check(given, keys, Place(settings.file, column=prefix), findings)
    for number, amount in enumerate(settings.limits.amounts, start=1):
        at = Place(settings.file, column=f"limits.amount[{number}]")
        given = {key: getattr(amount, key) for key in AMOUNT}
        _check(given, AMOUNT, at.at(f"{at.column}."), findings)
        doubt_amount({key: value for key, value in given.items() if value is not None}, at, findings)


def check_cell(value: float | None, column: Column) -> None:
    """Raise `ValueError` if no cell of this column could hold the value; shares are fractions."""
    if value is None:
        return
    key = Key("number", "", least=column.least, above=column.above, most=column.most)
    try:
        _check_value(value, key)
    except BadCell as fault:
        raise ValueError(f"{column.name}: {fault}") from None


def _check(given: Mapping[str, object], keys: Mapping[str, Key], at: Place, findings: Findings) -> None:
    for name, value in given.items():
        key, place = keys[name], at.at(f"{at.column}{name}")
        if value is None or value in ("", ()):
            if key.required:
                findings.error("missing-key", f"missing; {key.meaning} is needed.", place)
            continue
        try:
            _check_value(value, key)
        except BadCell as fault:
            findings.error("bad-value", str(fault), place)


def _check_value(value: object, key: Key) -> None:
    if key.takes in {"texts", "shares"}:
        if not isinstance(value, tuple):
            raise BadCell("a tuple is needed here.")
        for item in value:
            _check_value(item, Key(key.takes.removesuffix("s"), "", above=key.above, least=key.least, below=key.below))
    elif key.takes == "choice":
        known_choice(value, key)
    elif key.takes == "text":
        if not isinstance(value, str):
            raise BadCell("text is needed here.")
    elif key.takes != "date":
        _check_number(value, key)


def _check_number(value: object, key: Key) -> None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        share = ", a fraction" if key.takes == "share" else ""
        raise BadCell(f"a number is needed here{share}.")
    if not math.isfinite(value):
        raise BadCell(f"{value} is not a finite number.")
    if key.takes == "whole" and value != int(value):
        raise BadCell("a whole number is needed here.")
    in_range(value, key, " %" if key.takes == "share" else "")


def typed_in(text: str, key: Key) -> object:
    """Read what a person types for a key, as the study file or an option would have it; blank: None.

    Raises
    ------
    BadCell
        If it cannot be that key's; the message says what to write.
    """
    words = text.strip()
    if not words:
        if key.required:
            raise BadCell(f"{key.meaning} is needed.")
        return None
    value: object = words
    if key.takes == "choice":
        known_choice(words, key)
    elif key.takes == "share":
        value = 0.0 if words in {"0", "0 %"} else cells.share(words, sign_needed=True)
    elif key.takes in {"number", "whole"}:
        value = cells.number(words) if key.takes == "number" else cells.whole(words)
    if isinstance(value, float | int):
        if 0 < abs(value) < TINY:
            raise BadCell(f"{words} is out of all measure.")
        in_range(value, key, " %" if key.takes == "share" else "")
    return value
