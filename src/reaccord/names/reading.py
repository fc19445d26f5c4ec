"""What a chemist reads in a name, however a table, a certificate or an index writes it.

`name_key` says when two spellings are the same letters; `reading` goes further. Descriptors are taken from the front
or the end (`pinene, alpha`, `caryophyllene (E)`), index names are turned round (`acetic acid, hexyl ester`) and
locants stand in front of the stem (`hex-3-en-1-ol`; `spoken.py`), words that mean the same are one (`words.py`).
Signs of rotation, cis/trans or E/Z and Greek letters stay beside the rest, so nothing that tells two substances apart
is lost: `cis` is no `Z` here, an alpha no beta, a locant no other. Common practice, no source; systematic names after
the IUPAC recommendations of 1979 and 1993.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from reaccord.names.key import fold, name_key
from reaccord.names.spoken import in_one_order, turned_round
from reaccord.names.words import STRAIGHT, one_word

LONGEST_READ = 160
"""Characters of a name that is read; longer ones are no names in use."""


class Reading(NamedTuple):
    """A name apart: signs and configuration, E/Z or cis/trans, Greek letters and epi, and the rest without blanks."""

    turn: str
    geometry: str
    greek: str
    rest: str


_GREEK = r"alpha|beta|gamma|delta|epsilon|tau|omega|zeta"
_EPI = r"(?:\d{1,2}(?:,\d{1,2})*-)?(?:di-?)?epi"
_SIDE = r"cis|trans|[ez]"
_SIDES = rf"\d{{0,2}}'?-?(?:{_SIDE})(?:,\s?\d{{0,2}}'?-?(?:{_SIDE}))*"
_CENTRE = r"(?:\d{1,2}[a-e]?)?[rs]\*?"
_CENTRES = rf"{_CENTRE}(?:,\s?{_CENTRE})*"
_SIGN = r"\+/-|\+-|±|\+|-"
_TURN_WORD = r"d,l|d/l|dl|rac|racemic|racemate|dextro|laevo|levo"
_BRACKETED = rf"(?P<sides>{_SIDES})|(?P<greek>{_GREEK}|{_EPI})|(?P<turn>{_CENTRES}|{_SIGN}|{_TURN_WORD}|[dl])"
_BARE = rf"(?P<sides>{_SIDES})|(?P<greek>{_GREEK}|{_EPI})|(?P<turn>{_CENTRES}|\+/-|±|{_TURN_WORD}|[dl])"
_IN_BRACKETS = _BRACKETED.replace("(?P<", "(?P<b_")
_FRONT = re.compile(rf"(?:\((?:{_IN_BRACKETS})\)[-\s,]*)(?=\S)|(?:{_BARE})(?:-\s?|(?=\())")
_FRONT_WORD = re.compile(rf"(?:(?P<sides>cis|trans|[ez])|(?P<greek>{_GREEK}|{_EPI})|(?P<turn>racemic|dl))\s(?=\S)")
_GLUED = re.compile(r"(alpha|beta|gamma|delta|epi)-?(?=[a-z]{4}|\d-?[a-z])")
_BACK = re.compile(
    rf"[-\s,]*\((?:{_IN_BRACKETS})\)-?$"
    rf"|(?:,\s*|[-\s])(?:(?P<sides>(?:cis|trans)(?:,(?:cis|trans))*|\d{{0,2}}[ez](?:,\d{{0,2}}[ez])*)"
    rf"|(?P<greek>{_GREEK}|{_EPI})|(?P<turn>dl|d,l|rac|racemic|±))-?$"
    rf"|(?:,\s*|[-\s])(?P<behind>cis|trans|[ez])-?(?P<locant>\d{{1,2}})-?$"
)
_ANY_SIDE = re.compile(rf"(?<![a-z])(?:{_SIDE})(?![a-z])")
_ONE_SIDE = re.compile(rf"(\d*)'?-?({_SIDE})")
_APART_SIDES = re.compile(rf"\(?({_SIDE})-?(\d{{1,2}})[,-]\s?({_SIDE})-?(\d{{1,2}})\)?-")
_SIDES_APART = re.compile(rf"^(\d{{1,2}})-?\(?({_SIDE})\)?[-,](\d{{1,2}})-?\(?({_SIDE})\)?-(?=[a-z])")
_SIDE_INSIDE = re.compile(r"(?<=[a-z]-)(\d{1,2})\(?([ez])\)?(?:,(\d{1,2})\(?([ez])\)?)?-(?=(?:di)?en)")
_SIDE_BEFORE_STEM = re.compile(r"(?<=[a-z]-)\((\d{1,2})([ez])\)-(?=(?:di)?en)")
_LOCANTS_THEN_SIDES = re.compile(rf"(\d{{1,2}}(?:,\d{{1,2}})*)(?:-\(?|\()((?:{_SIDE})(?:,(?:{_SIDE}))*)\)?-(?=[a-z])")
_ACID_SIDE = re.compile(rf"((?:iso)?(?:meth|eth|{STRAIGHT})yl)\s?\(?([ez])\)?-(?=[a-z\d])")
_UNSATURATED = re.compile(rf"(?<![a-z\d-])(?:{STRAIGHT})a?(?:di|tri)?en(?:al|ol|yl|oic|oate|one|e)")
_BONDS = re.compile(r"(di|tri|tetra)?en(?:e|al|ol|yl|oic|oate|one|-)")
_HOW_MANY = {"": 1, "di": 2, "tri": 3, "tetra": 4}
_TURNS = {"d": "+", "dextro": "+", "l": "-", "laevo": "-", "levo": "-"}
_EVEN = frozenset(("d,l", "d/l", "dl", "rac", "racemic", "racemate", "+/-", "+-", "±"))
_INNER_BLANK = re.compile(r"(?<=[ezrs,]) (?=[\dezrs,]+\))")
_RING_SIZE = re.compile(r"[ ,(-]*(?<![a-z])(furan|pyran)(?:oid)?\)?(?![a-z])[ ,-]*")
_RING = re.compile(r"(?<![a-z])([opm])-(?=[a-z])")
"""A lone letter on a ring: without the hyphen the m of m-ethyl would make a methyl of it."""
_RADICALS = {
    "first": "1-phenylethyl",
    "second": "phenylethyl",
    "naphthyl": "beta-naphthyl",
    "terpinyl": "alpha-terpinyl",
}
_RADICAL = re.compile(
    r"(?P<first>alpha-?methyl-?benzyl|styrall?yl|(?:1|sec)-phenethyl|methyl ?phenyl ?carbinyl)"
    r"|(?P<second>beta-?phen(?:yl)?-?ethyl)|(?P<naphthyl>2-naphthyl)|(?P<terpinyl>p-menth-1-en-8-yl)"
)
_TIGLIC = re.compile(r"\(2?(?:(e)|z)\)-2-methyl-?(?:2-buten|but-2-en)o(?=ate)")
_LACTONE = re.compile(r"(?<=[a-z])ano(?:lactone|lide)$")
"""What a Greek letter before it makes a lactone of that ring; a bare hexadecanolide is a ring of all its carbons."""
_LOCANTS = re.compile(r"[\d,()'-]+")
_ANGLED_BEHIND = re.compile(r"([^<>]*[^<>\s,])[\s,]*<([^<>]+)>")
_DOTTED_GREEK = re.compile(rf"\.({_GREEK})\.")


@lru_cache(maxsize=16384)
def reading(text: str) -> Reading:
    """Return what the name says; two spellings of one name have the same reading.

    >>> reading("terpineol, alpha") == reading("α-terpineol")
    True
    """
    if len(text) > LONGEST_READ:
        return Reading("", "", "", name_key(text))
    plain = " ".join(fold(text).replace("[", "(").replace("]", ")").split()).replace("alfa", "alpha")
    plain = _ANGLED_BEHIND.sub(r"\1, \2", plain).replace("<", "(").replace(">", ")") if "<" in plain else plain
    plain = _DOTTED_GREEK.sub(r"\1", plain) if "." in plain else plain
    plain = _INNER_BLANK.sub("", plain) if "(" in plain else plain
    size = _RING_SIZE.search(plain) if "oxide" in plain or "oxyde" in plain else None
    if size:
        plain = " ".join(_RING_SIZE.sub(" ", plain).strip(" ,-").split())
    plain = turned_round(_sides_apart(_TIGLIC.sub(_tiglic, plain)) if _ANY_SIDE.search(plain) else plain)
    plain = _RADICAL.sub(lambda found: _RADICALS[found.lastgroup or ""], plain) if "yl" in plain else plain
    turns: list[str] = []
    sides: list[tuple[str, str]] = []
    greek: list[str] = []
    rest = _take_behind(_take_before(plain, turns, sides, greek), turns, sides, greek)
    if greek in (["alpha"], ["beta"]) and (found := _RADICAL.match(f"{greek[0]}-{rest}")):
        rest, greek = _RADICALS[found.lastgroup or ""] + rest[found.end() - len(greek[0]) - 1 :], []
    rest, geometry = _placed(in_one_order(rest), sides)
    rest = _LACTONE.sub("alactone", rest) if greek else rest
    rest = one_word(name_key(_RING.sub(r"\1'", rest))) + (f"{size[1]}oid" if size else "")
    return Reading(" ".join(sorted(turns)), geometry, "-".join(sorted(greek)), rest)


def without_locants(rest: str) -> str:
    """Return the rest of a name without figures and what stands between them."""
    return _LOCANTS.sub("", rest)


def _tiglic(found: re.Match[str]) -> str:
    return "tigl" if found[1] else "angel"


def _sides_apart(plain: str) -> str:
    """Bring E/Z and cis/trans from inside a name to its front, with their locants."""
    plain = _SIDES_APART.sub(r"(\1\2,\3\4)-", _APART_SIDES.sub(r"(\2\1,\4\3)-", plain))
    found = _SIDE_INSIDE.search(plain)
    if found:
        one, left, two, right = found.groups()
        inside = f"{one},{two}" if two else one
        sides = f"{left},{right}" if two else left
        return f"({sides})-{plain[: found.start()]}{inside}-{plain[found.end() :]}"
    plain = plain if plain.startswith("(") else _LOCANTS_THEN_SIDES.sub(r"(\2)-\1-", plain)
    plain = _SIDE_BEFORE_STEM.sub(r"\1\2-", plain)
    acid = _ACID_SIDE.match(plain)
    return f"({acid[2]})-{acid[1]} {plain[acid.end() :]}" if acid else plain


def _take_before(plain: str, turns: list[str], sides: list[tuple[str, str]], greek: list[str]) -> str:
    while True:
        found = _FRONT.match(plain) or _FRONT_WORD.match(plain)
        if found and found.end() < len(plain):
            _sort_out(found, turns, sides, greek, before=True)
            plain = plain[found.end() :]
            continue
        glued = _GLUED.match(plain)
        if not glued:
            return plain
        greek.append(glued[1])
        plain = plain[glued.end() :]


def _take_behind(plain: str, turns: list[str], sides: list[tuple[str, str]], greek: list[str]) -> str:
    while found := _BACK.search(plain):
        if found.start() == 0:
            return plain
        rest = plain[: found.start()].rstrip(" ,-")
        if found["behind"]:
            sides.append((found["locant"], found["behind"]))
        else:
            _sort_out(found, turns, sides, greek, before=False)
        plain = rest
    return plain


def _sort_out(
    found: re.Match[str], turns: list[str], sides: list[tuple[str, str]], greek: list[str], *, before: bool
) -> None:
    groups = {name.removeprefix("b_"): value for name, value in found.groupdict().items() if value}
    if "sides" in groups:
        some = [(locant, side) for locant, side in _ONE_SIDE.findall(groups["sides"])]
        sides[:] = [*sides, *some] if before else [*some, *sides]
    if "greek" in groups:
        greek.append(groups["greek"].replace("di-epi", "diepi"))
    if "turn" in groups:
        turn = groups["turn"].replace(" ", "")
        turns.append("±" if turn in _EVEN else _TURNS.get(turn, turn))


def _placed(rest: str, sides: list[tuple[str, str]]) -> tuple[str, str]:
    """Put the locants of double bonds where they belong: into a systematic name that lacks them, else away."""
    sides = sorted(sides, key=lambda placed: placed[1] in ("cis", "trans"))  # those of rings behind E and Z, in order
    locants = [locant for locant, _ in sides if locant]
    geometry = ",".join(side for _, side in sides)
    if not locants:
        return rest, geometry
    if len(locants) == len(sides) and _UNSATURATED.match(rest):
        return f"{','.join(locants)}-{rest}", geometry
    ascending = [int(locant) for locant in locants] == sorted({int(locant) for locant in locants})
    bonds = _BONDS.search(rest)
    stated = any(char.isdigit() for char in rest)
    complete = bonds is not None and _HOW_MANY[bonds[1] or ""] == len(sides)
    if len(locants) == len(sides) and ascending and (complete or not stated):
        return rest, geometry
    return rest, ",".join(locant + side for locant, side in sides)
