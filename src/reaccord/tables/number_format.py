"""What a spreadsheet's number format makes of a number: a hundredfold with a sign, or text beside it.

Sections, placeholders and literals as ECMA-376 Part 1, section 18.8.31, describes format codes (from memory). Only
what changes the meaning of a number is looked at: not how many of its digits are shown.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal

from reaccord.names.text import one_line

SIGNS = ("%", "‰", "ppm")
"""Units of a share; beside a number they are part of what it says."""

_TOKEN = re.compile(
    r'"(?P<quoted>[^"]*)"?|\\(?P<escaped>.)|(?P<skipped>[_*].)|\[(?P<bracket>[^\]]*)\]'
    r"|(?P<digits>General|[0#?@.,]+|E[+-]|/\s?\d+)"
    r"|(?P<percent>%)|(?P<end>;)|(?P<other>.)",
    re.IGNORECASE | re.DOTALL,
)
_CONDITION = re.compile(r"(<=|>=|<>|<|>|=)\s*(-?\d+(?:\.\d+)?)")
_AROUND = " \u00a0\u202f()+-'"
"""What may stand round a number and means nothing more."""
_PADDED = re.compile("0{2,40}")
_GRAM = ("_g", "(g)", "grams")
_MONEY = ("price", "cost")
_PER_KG = re.compile(r"\s*(?:/|per)\s*kg$")


class Unclear(ValueError):
    """The format shows something else than the number that is stored; the message says what."""


@dataclass
class _Section:
    """One section of a format: text before, between and after the placeholders."""

    condition: str = ""
    before: str = ""
    digits: str = ""
    after: str = ""
    percents: int = 0

    def add_text(self, text: str) -> None:
        if self.digits:
            self.after += text
        else:
            self.before += text

    def add_digits(self, digits: str) -> None:
        if self.after.strip(" /"):
            raise Unclear(f'puts "{self.after.strip()}" between its digits')
        self.digits += self.after + digits
        self.after = ""


def shown(value: float, code: str, heading: str) -> str:
    """Return a number as its format shows it: its own digits, and a sign if the format has one.

    Parameters
    ----------
    value
        What the cell stores.
    code
        Its number format, as `0.0 "ppm"`.
    heading
        Of its column: gram stand behind gram, and currency signs by prices.

    Raises
    ------
    Unclear
        If text beside the number means something that this program does not read.
    """
    exact = Decimal(repr(value))
    if not exact.is_finite():
        return str(value)
    section = _chosen(_sections(code or "General"), exact)
    if section.percents > 1:
        raise Unclear("shows several percent signs")
    if exact == 0 and section.before.strip() and not section.before.strip(" -–—"):
        return "0"  # as bookkeepers show nothing
    if not section.digits and not section.percents:
        if not section.before.strip():
            raise Unclear(f"hides the number {plain(exact)}")
        return section.before.strip()
    if re.search(r"[0#?],+(?![0#?,])", section.digits):
        raise Unclear("shows thousands as one")
    if exact >= 0 and "-" in section.before:
        raise Unclear("shows a minus sign before a number that has none")
    text = one_line(f"{section.before} {'%' * section.percents}{section.after}").strip(_AROUND)
    if _PADDED.fullmatch(code) and exact >= 0 and exact == exact.to_integral_value():
        return plain(exact).zfill(len(code))  # a number of a lot; as a number it is the same
    if section.percents:
        exact *= 100
    if text in SIGNS and not section.before.strip(_AROUND):
        return f"{plain(exact)} {text}"
    if text and not _at_home(text, heading.casefold()):
        raise Unclear(f'shows "{text}" beside the number')
    return plain(exact)


def plain(number: Decimal) -> str:
    """Write a number without an exponent and without trailing zeros: 12.50 as 12.5, 1e-05 as 0.00001."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _at_home(text: str, heading: str) -> bool:
    """Whether this text beside a number says no more than the heading of its column does."""
    if text in {"g", "gram", "grams"}:
        return heading.endswith(_GRAM)
    money = _PER_KG.sub("", text)
    currency = all(unicodedata.category(c) == "Sc" for c in money) or re.fullmatch("[A-Z]{3}", money)
    return bool(currency) and any(word in heading for word in _MONEY)


def _sections(code: str) -> list[_Section]:
    sections = [_Section()]
    for token in _TOKEN.finditer(code):
        here, kind, text = sections[-1], token.lastgroup, token[token.lastgroup or 0] or ""
        if kind == "end":
            sections.append(_Section())
        elif kind == "digits":
            here.add_digits(text)
        elif kind == "percent":
            here.percents += 1
        elif kind == "bracket":
            if _CONDITION.fullmatch(text):
                here.condition = text
            elif text.startswith("$"):  # a currency and a country: [$€-407]
                here.add_text(text[1:].partition("-")[0])
        elif kind != "skipped":
            here.add_text(text)
    return sections


def _chosen(sections: list[_Section], value: Decimal) -> _Section:
    """Return the section for a value: by conditions if there are any, else positive; negative; zero."""
    if any(section.condition for section in sections):
        for section in sections:
            if not section.condition or _holds(section.condition, value):
                return section
        raise Unclear(f"has no section for {plain(value)}")
    if value < 0 and len(sections) > 1:
        return sections[1]
    if value == 0 and len(sections) > 2:
        return sections[2]
    return sections[0]


def _holds(condition: str, value: Decimal) -> bool:
    found = _CONDITION.fullmatch(condition)
    assert found is not None
    limit = Decimal(found[2])
    return {
        "<": value < limit,
        ">": value > limit,
        "=": value == limit,
        "<=": value <= limit,
        ">=": value >= limit,
        "<>": value != limit,
    }[found[1]]
