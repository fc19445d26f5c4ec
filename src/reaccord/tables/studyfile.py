"""The study file (TOML): every key declared once, every unknown one an error with the nearest known."""

from __future__ import annotations

import datetime
import math
import re
import tomllib
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any

from reaccord.domain.settings import (
    AmountSettings,
    BalanceSettings,
    BatchSettings,
    DilutionSettings,
    FitSettings,
    LimitSettings,
    Settings,
    ShelfSettings,
    TargetSettings,
)
from reaccord.findings import Findings, Place
from reaccord.names.key import nearest
from reaccord.names.text import shortened
from reaccord.tables.cells import BadCell
from reaccord.tables.columns import LARGEST
from reaccord.tables.study_key import Key, date_of, hint_of, known_choice, number_of, text_of

LEAST = 1e-7
"""Gram; no balance shows less than a tenth of a microgram (common practice, no source)."""


def _grams(meaning: str, *, required: bool = False, above: float = -math.inf, most: float = LARGEST) -> Key:
    return Key("number", meaning, required, LEAST if above == 0 else 0, above, most, unit="g")


def _choice(meaning: str, *choices: str) -> Key:
    return Key("choice", meaning, choices=choices)


SECTIONS: Mapping[str, Mapping[str, Key]] = {
    "": {
        "title": Key("text", "what the study is called"),
        "date": Key("date", "day for which ages are counted; default today"),
    },
    "target": {
        "table": Key("text", "table of constituents and shares", required=True),
        "samples": Key("texts", "columns of the table; default all"),
        "combine": _choice("several samples: their mean, or the band from lowest to highest", "mean", "band"),
        "basis": _choice("what the percentages are", "mass", "fid-area"),
        "rest": _choice("close: shares are divided by their sum; open: a range table", "close", "open"),
    },
    "shelf": {
        "bottles": Key("text", "table of bottles", required=True),
        "compositions": Key("text", "table of compositions"),
        "constituents": Key("text", "table of the study's own constituents"),
        "overdue": _choice("what to do with a bottle past its date", "keep", "exclude"),
    },
    "batch": {
        "accord_g": _grams("mass of the target's own constituents", required=True, above=0, most=1e7),
        "carrier_max_g": _grams("most carrier in the batch"),
    },
    "balance": {
        "readability_g": _grams("smallest step of the balance", required=True, above=0),
        "minimum_g": _grams("smallest weighable mass", above=0),
        "tolerance": Key("share", "weighing tolerance that gives the smallest mass", above=0, least=1e-9, most=1),
        "repeatability_g": _grams("standard deviation of the balance"),
    },
    "dilutions": {
        "strengths": Key("shares", "strengths that may be made", required=True, above=0, least=1e-9, below=1),
        "carrier": Key("text", "what they are made with", required=True),
        "most": Key("whole", "most dilutions made", least=0, most=LARGEST),
    },
    "limits": {
        "cost_per_kg": Key("number", "most that the accord may cost", least=0, most=LARGEST, unit="per kg"),
        "lines": Key("whole", "most stocks used", least=1, most=LARGEST),
        "undeclared": Key("share", "most undeclared mass per gram of accord", least=0, most=1),
        "exclude": Key("texts", "materials not to be used"),
        "table": Key("text", "table of restricted substances"),
        "product": Key("text", "the finished product"),
        "dosage": Key("share", "accord in the finished product", above=0, least=1e-9, most=1),
        "use": _choice("for the declaration", "leave-on", "rinse-off", "not cosmetic"),
        "amount": Key("amounts", "named amounts"),
    },
    "fit": {
        "measure": _choice("sum of squares, sum of sizes, or the worst", "squares", "absolute", "worst"),
        "scale": _choice("how residuals are scaled", "equal", "proportional", "relative"),
        "floor": Key("share", "shares below this are scaled as this", above=0, least=1e-9, most=1),
        "foreign_floor": Key("share", "the same for what should not be there", above=0, least=1e-9, most=1),
        "shorten": Key("share", "so much closeness may go into a shorter formula; 0 is off", least=0, most=1),
    },
}

NEEDED = ("target", "shelf", "batch")
"""Sections without which there is no study."""
CLASSES: Mapping[str, Callable[..., Any]] = {
    "target": TargetSettings,
    "shelf": ShelfSettings,
    "batch": BatchSettings,
    "balance": BalanceSettings,
    "dilutions": DilutionSettings,
    "limits": lambda amount=(), **others: LimitSettings(amounts=amount, **others),
    "fit": FitSettings,
}
_HEADING = re.compile(r"^(?=\[[a-z]+\]\s*$)", re.MULTILINE)

AMOUNT: Mapping[str, Key] = {
    "material": Key("text", "which material", required=True),
    "at_least_g": _grams("of neat material"),
    "at_most_g": _grams("of neat material"),
    "exactly_g": _grams("of neat material"),
}


def parse_study(text: str, file: str, findings: Findings) -> Settings | None:
    """Read the study file; None where a finding says that something needed is not there."""
    sections = _apart(text) or _together(text, file, findings)
    if sections is None:
        return None
    top = sections[""]
    return Settings(
        file=file,
        title=top.get("title", ""),
        date=top.get("date") or datetime.date.today(),
        target=sections["target"],
        shelf=sections["shelf"],
        batch=sections["batch"],
        balance=sections.get("balance"),
        dilutions=sections.get("dilutions"),
        limits=sections.get("limits") or LimitSettings(),
        fit=sections.get("fit") or FitSettings(),
    )


def _apart(text: str) -> dict[str, Any] | None:
    """Return the sections, each read by itself, once for all studies that have it; None where that cannot be done.

    Text that is cut within a string or a list is no TOML: where all parts are, it was cut between sections.
    """
    sections: dict[str, Any] = {"": {}}
    for part in filter(None, _HEADING.split(text)):
        read = _part(part)
        if read is None or not read.keys().isdisjoint(sections.keys() - {""}):
            return None
        sections.update(read)
    return sections if sections.keys() >= set(NEEDED) else None


@lru_cache(maxsize=64)
def _part(text: str) -> Mapping[str, Any] | None:
    """Return the sections of a part of a study file; None if there is anything to say of them."""
    findings = Findings()
    try:
        sections = _sections(tomllib.loads(text), "", findings)
    except (ValueError, RecursionError):
        return None
    return None if any(findings) else {name: section for name, section in sections.items() if section}


def _together(text: str, file: str, findings: Findings) -> dict[str, Any] | None:
    """Return the sections of a whole study file; None where a finding says that something needed is not there."""
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as fault:
        other = "" if file.lower().endswith(".toml") else " A study file is wanted here, as study.toml."
        findings.error("toml", f"not proper TOML: {str(fault).rstrip('.')}.{other}", Place(file))
        return None
    sections = _sections(document, file, findings)
    misspelt = {nearest(name, filter(None, SECTIONS)) for name, value in document.items() if _unknown(name, value)}
    for name in NEEDED:
        if name not in document and name not in misspelt:
            findings.error("missing-key", f"the section [{name}] is missing.", Place(file, column=name))
    return sections if sections.keys() >= set(NEEDED) else None


def _sections(document: dict[str, Any], file: str, findings: Findings) -> dict[str, Any]:
    """Return the sections that are there and complete, values typed."""
    top = {name: value for name, value in document.items() if not isinstance(value, dict)}
    read: dict[str, Any] = {"": _section("", top, file, findings) or {}}
    for name, value in document.items():
        if _unknown(name, value):
            findings.error(
                "unknown-key", f"no such section is known.{hint_of(name, SECTIONS)}", Place(file, column=name)
            )
        elif isinstance(value, dict):
            section = _section(name, value, file, findings)
            if section is not None:
                read[name] = CLASSES[name](**section)
    return read


def _unknown(name: str, value: object) -> bool:
    return isinstance(value, dict) and (not name or name not in SECTIONS)


def _section(name: str, values: dict[str, Any], file: str, findings: Findings) -> dict[str, Any] | None:
    keys = SECTIONS[name]
    prefix = f"{name}." if name else ""
    read = _keys(values, keys, prefix, file, findings)
    return read if all(key in read for key, spec in keys.items() if spec.required) else None


def _keys(
    values: dict[str, Any], keys: Mapping[str, Key], prefix: str, file: str, findings: Findings
) -> dict[str, Any]:
    read = {}
    misspelt = set()
    for key, value in values.items():
        place = Place(file, column=prefix + key)
        if key not in keys:
            misspelt.add(nearest(key, keys))
            findings.error("unknown-key", f"no such key is known.{hint_of(key, keys)}", place)
            continue
        try:
            read[key] = _value(value, keys[key], place, findings)
        except BadCell as fault:
            findings.error("bad-value", str(fault), place)
    for key, spec in keys.items():
        if spec.required and key not in values and key not in misspelt:  # else the finding on that key says so
            findings.error("missing-key", f"missing; {spec.meaning} is needed.", Place(file, column=prefix + key))
    return read


def _value(value: Any, key: Key, place: Place, findings: Findings) -> Any:
    if key.takes == "text":
        return text_of(value)
    if key.takes in {"texts", "shares"}:
        if not isinstance(value, list):
            raise BadCell('a list is needed here, as ["...", "..."].')
        if not value:
            out = "its whole section" if key.required else "the key"
            raise BadCell(f"the list is empty: name at least one, or take {out} out.")
        items = tuple(text_of(item) if key.takes == "texts" else number_of(item, key) for item in value)
        twice = next((given for item, given in zip(items, value, strict=True) if items.count(item) > 1), None)
        if twice is not None:
            raise BadCell(f'"{shortened(str(twice))}" stands twice.')
        return items
    if key.takes == "choice":
        known_choice(value, key)
        return value
    if key.takes == "amounts":
        return _amounts(value, place, findings)
    return date_of(value) if key.takes == "date" else number_of(value, key)


def _amounts(value: Any, place: Place, findings: Findings) -> tuple[AmountSettings, ...]:
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise BadCell("write it as [[limits.amount]], one for each material.")
    read = []
    for number, item in enumerate(value, start=1):
        prefix = f"{place.column}[{number}]."
        before = len(findings.errors)
        keys = _keys(item, AMOUNT, prefix, place.file, findings)
        here = Place(place.file, column=prefix.rstrip("."))
        if len(findings.errors) == before or not keys.keys() <= {"material"}:
            doubt_amount(keys, here, findings)
        if "material" in keys:
            read.append(AmountSettings(**keys))
    return tuple(read)


def doubt_amount(keys: Mapping[str, Any], here: Place, findings: Findings) -> None:
    """Say what does not go together in one named amount."""
    if keys.keys() <= {"material"}:
        findings.error("missing-key", "how much? Give at_least_g, at_most_g or exactly_g.", here)
    if "exactly_g" in keys and len(keys) > 2:
        findings.error("bad-value", "exactly_g stands alone.", here)
    if keys.get("at_least_g", 0) > keys.get("at_most_g", math.inf):
        findings.error("bad-value", "at_least_g is above at_most_g.", here)
