"""Index names turned round, and one order of words, locants and prefixes: as the trade speaks a name.

`hexanoic acid, ethyl ester` is ethyl hexanoate, `hex-3-en-1-ol` 3-hexenol, `hexanol acetate` hexyl acetate. A prefix
`n-` goes only before a straight chain, and never in a name with nitrogen, where it may be the atom. Common practice, no
source; locants after the IUPAC recommendations of 1979 and 1993.
"""

from __future__ import annotations

import re

from reaccord.names.words import ALCOHOLS, STRAIGHT

_ACIDS = "acet|form|benzo|salicyl|cinnam|phenylacet|tigl|angel|anthranil|anis|[a-z]+ano|[a-z]*butyr|[a-z]*valer|propion"
_ESTER = rf"(?:{_ACIDS})ate"
_NITROGEN = re.compile(r"amid|amin|anthranil|anilin|imid|carbam|urea|pyrr|indol")
_NORMAL = re.compile(
    rf"(?<![a-z\d'])(?:n|normal)[- ](?=(?:{STRAIGHT}|amyl|laur|myrist|palmit|stear|capr|valer|pelargon|butyr|propion))"
)
_NORMAL_BEHIND = re.compile(r"(?<=[a-z]{3})(?:[- ]?\(n\)|[-, ]+n-?)$")
_RING = re.compile(r"(?<![a-z])(?:(p)ara|(o)rtho|(m)eta)[- ](?=[a-z\d])")
_RING_GLUED = re.compile(r"^(?:(p)ara|(o)rtho|(m)eta)(?=cymen|cresol|cresyl|menth|anis)")
_RING_BEHIND = re.compile(r"(.+?)(?:\s\(?|-\(|\()(p|o|m|para|ortho|meta)\)?-?$")
_ON_RING = re.compile(
    r"(?<![a-z\d,])(?:(o)|(m)|p)-(?=(?:methyl|ethyl|propyl|isopropyl|isopropenyl|tert-butyl|methoxy|ethoxy|hydroxy|amino|allyl|"
    r"vinyl)(?:benz|phenyl|phenol|toluen|anisol|acetophenon|styren|cinnam))"
)
"""One group and the place of another on a ring: ortho, meta and para are 2, 3 and 4."""
_ISO = re.compile(r"(?<![a-z\d])i-(?=[a-z]{3})")
_TERT = re.compile(r"(?<![a-z])(?:t-|tert\. ?|tert )(?=butyl|amyl|pentyl)")
_ISOPROPYL = re.compile(r"\(propan-2-yl\)|propan-2-yl\b")
_LOCANT_BEHIND = re.compile(r"([a-z]+(?:ol|one|ene|al))-(\d{1,2})$")
_ELIDED = re.compile(r"(?<=[ae]n)e-(?=\d{1,2}-(?:ol|one|al|yl)\b)")
_NUMBERED = r"\d{1,2}(?:\(\d{1,2}\))?"
_IN_STEM = re.compile(
    rf"(?:(?<=yl)|(?<=oxy)|(?<=oxo)|(?<![a-z]))((?:cyclo)?(?:{STRAIGHT}))(a?)-({_NUMBERED}(?:,{_NUMBERED})*)-"
    r"((?:di|tri|tetra)?(?:en|yn)(?![a-z]{4})|(?:di|tri|tetra)?en(?=al|ol|yl|oic|oate|one|enitrile)|olide)"
)
_IN_NAME = re.compile(
    rf"^((?:p-|m-|o-)?[a-z]{{3,}}?)(a?)-({_NUMBERED}(?:,{_NUMBERED})*)-?((?:di|tri|tetra)?en(?![a-z]{{4}}))"
)
_ALKANE = re.compile(
    rf"(?:(?<=yl)|(?<![a-z]))((?:p-menth|born|pin|thuj|{STRAIGHT})an)(e?)-(\d{{1,2}}(?:,\d{{1,2}})?)-"
    r"(ol|one|yl|diol|dione|olide)\b"
)
_FIRST_ENE = re.compile(rf"((?:{STRAIGHT})a?(?:di|tri)?en)-1-(?=(?:ol|al|yl)(?:$|[ )]))|(cyclo[a-z]+ene)-1-(?=carb)")
_FIRST_ONE = re.compile(r"(cyclo[a-z]+[ae]n)-1-(?=one$)")
_FIRST = re.compile(rf"(?<![\d,])1-(?=(?:{STRAIGHT})(?:an(?:ol|al)\b|yl(?: |$)))")
_RADICAL_OF = re.compile(rf"(?:(an)|(en)|(-\d{{1,2}}-))ol(?= {_ESTER}$)")
_ALCOHOL_OF = re.compile(rf"(?<=yl) alcohol(?= {_ESTER}$)")
_TRADE_OF = re.compile(rf"({'|'.join(sorted(ALCOHOLS.values(), key=len, reverse=True))})(?= {_ESTER}$)")
_TRADE_RADICAL = {alcohol: radical for radical, alcohol in ALCOHOLS.items()}
_NUMBERED_ALDEHYDE = re.compile(r"c[- ]?(\d{1,2})(?:[- ]?\(?([a-z]+)\)?)?[- ]ald(?:ehyde|\.)?$|ald\.? c[- ]?(\d{1,2})$")
_NUMBERED_ALCOHOL = re.compile(r"c[- ]?(\d{1,2}) alcohol$")
_BRACKETED_KIND = re.compile(r"(aldehyde c-?\d{1,2}) \(([a-z]+)\)$")


def in_one_order(name: str) -> str:
    """Return a name whose descriptors are gone with locants before stems and one prefix for each meaning."""
    name = name.strip(" ,-")
    name = _RING_GLUED.sub(_letter, name if name.isalpha() else _prefixes(name))
    name = _LOCANT_BEHIND.sub(r"\2-\1", name) if name[-1:].isdigit() else name
    if "ald" in name or "alcohol" in name:
        name = _numbered(name)
    if "-" in name and any(char.isdigit() for char in name):
        name = _locants_first(name)
    if name.endswith("ate"):
        name = _RADICAL_OF.sub(lambda found: found[3] + "yl" if found[3] else "enyl" if found[2] else "yl", name)
        name = _ALCOHOL_OF.sub("", name)
        name = _TRADE_OF.sub(lambda found: _TRADE_RADICAL[found[1]], name)
    return _in_order(name) if name.endswith(("ether", "ketone", "carbinol")) else name


def _prefixes(name: str) -> str:
    ring = _RING_BEHIND.fullmatch(name)
    if ring:
        name = f"{ring[2]}-{ring[1]}"
    name = _RING.sub(_letter, name)
    if not _NITROGEN.search(name):
        name = _NORMAL.sub("", _NORMAL_BEHIND.sub("", name))
    name = _ISOPROPYL.sub("isopropyl", _TERT.sub("tert-", _ISO.sub("iso", name)))
    return _ON_RING.sub(lambda found: "2-" if found[1] else "3-" if found[2] else "4-", name)


def _in_order(name: str) -> str:
    """Return a name of two radicals (`hexyl methyl ketone`) with the earlier letter first; an ether's alcohol first."""
    found = _ETHER_OF.fullmatch(name)
    if found:
        return f"{found[2]} {found[1]} ether"
    found = _TWO_RADICALS.fullmatch(name.replace("amyl", "pentyl"))
    return f"{' '.join(sorted((found[1], found[2])))} {found[3]}" if found else name


def _letter(found: re.Match[str]) -> str:
    return f"{found[1] or found[2] or found[3]}-"


def _numbered(name: str) -> str:
    found = _NUMBERED_ALDEHYDE.fullmatch(name)
    if found:
        return f"aldehyde c{found[1] or found[3]} {found[2] or ''}".strip()
    found = _NUMBERED_ALCOHOL.fullmatch(name)
    return f"alcohol c{found[1]}" if found else _BRACKETED_KIND.sub(r"\1 \2", name)


def _locants_first(name: str) -> str:
    name = _ELIDED.sub("-", name)
    name, moved = _IN_STEM.subn(r"-\3-\1\2\4", name)
    if not moved:
        name = _IN_NAME.sub(r"\3-\1\2\4", name)
    name = _ALKANE.sub(_alkane, name)
    name = _FIRST_ONE.sub(r"\1", _FIRST_ENE.sub(lambda found: found[1] or found[2], name))
    return _FIRST.sub("", name.strip("-"))


def _alkane(found: re.Match[str]) -> str:
    stem, mute, locants, ending = found.groups()
    if ending == "yl":
        return f"-{locants}-{stem.removesuffix('an')}yl"
    return f"-{locants}-{stem}{mute}{ending}"


_TWO_RADICALS = re.compile(r"([a-z]+yl)[ -]([a-z]+yl)[ -]?(ether|ketone|carbinol)")
_ETHER_OF = re.compile(r"(methyl|ethyl) ([a-z-]+ol) ether")
_CUT = re.compile(
    r"(?<!\d),\s+|,\s+(?!\d)"
    r"|(?:(?<=[a-z]{5})|(?<=acid))(?<!alpha)(?<!gamma)(?<!delta)(?<!trans),(?=[a-z(]{2})"
    r"|(?<=(?:[aeo]l|ne|id)),(?=\d)"
)
_NUMBERED_HEAD = re.compile(r"(?:aldehyde|alcohol) c[- ]?\d{1,2}|c[- ]?\d{1,2} (?:aldehyde|alcohol)")
_BEHIND = re.compile(rf"(?:\d-)?{_ESTER}|.+ ?ester|(?:ep)?oxide|alcohol|aldehyde|(?:[a-z]+ )?ether|hydrate|.+ acetal")
_FIRST_ESTER = re.compile(rf"^\d-(?={_ESTER}$)")
_OF_ACID = re.compile(r"(.*?)ic acid[-, ]+(.+?)[ -]?ester$")
_FRENCH = re.compile(r"([a-z]+ate) (?:de |d')(\S+yl)e$")
_NO_HEADS = frozenset(("trans", "cis", "alpha", "beta", "gamma", "delta"))


def turned_round(plain: str) -> str:
    """Return an index name (`hexanoic acid, ethyl ester`, `cymene, p-`, `acetate, linalyl`) as it is spoken."""
    pieces = [piece.strip() for piece in _CUT.split(plain)] if "," in plain else [plain]
    if len(pieces) > 1 and all(pieces) and pieces[0] not in _NO_HEADS:
        head, *others = pieces
        before = [piece for piece in others if not _BEHIND.fullmatch(piece)]
        behind = [_FIRST_ESTER.sub("", piece) for piece in others if _BEHIND.fullmatch(piece)]
        if _NUMBERED_HEAD.fullmatch(head):
            return " ".join(pieces)
        start = "".join(_joint(piece) for piece in reversed(before))
        ester = behind[-1] if behind and behind[-1].endswith("ester") else ""
        sides = "".join(_joint(piece) for piece in reversed(before) if piece.startswith("("))
        if ester and sides:
            start = start.replace(sides, "")
        plain = " ".join([start + head, *behind])
        found = _OF_ACID.fullmatch(plain)
        return sides + f"{found[2]} {found[1]}ate" if ester and found else plain
    found = _OF_ACID.fullmatch(plain)
    if found:
        return f"{found[2]} {found[1]}ate"
    found = _FRENCH.fullmatch(plain)
    return f"{found[2]} {found[1]}" if found else plain


def _joint(piece: str) -> str:
    return piece if piece.endswith(" ") else f"{piece} " if piece.endswith("yl") else f"{piece.rstrip('-')}-"
