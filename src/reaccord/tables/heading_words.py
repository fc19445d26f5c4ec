"""What the headings of published analyses usually say, capitals, blanks, brackets and footnote letters aside.

Common practice, no source: the words below are how published analyses head their columns.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from functools import lru_cache

from reaccord.tables.columns import TABLES

_NAMED = {"compound", "component", "constituent", "substance", "analyte", "molecule", "chemical", "name", "volatile",
          "voc", "odorant", "terpene", "terpenoid"}  # fmt: skip
_ABOUT = {"of", "the", "and", "all", "organic", "aroma", "essential", "oil", "identified", "detected", "main", "major",
          "common", "individual", "named", "active", "phytochemical", "bioactive", "trivial", "found",
          "in"}  # fmt: skip
"""What stands beside those words and changes nothing."""


def _names_constituents(form: str) -> bool:
    words = [word.removesuffix("s") for word in re.findall(r"[^\W_]+", form)]
    return any(word in _NAMED for word in words) and all(word in _NAMED or word in _ABOUT for word in words)


class _Constituent(Collection[str]):
    """Any words of `_NAMED`, with those of `_ABOUT` beside them: `Name of compounds`, `Volatile component`."""

    def __contains__(self, form: object) -> bool:
        return isinstance(form, str) and _names_constituents(form)

    def __iter__(self) -> Iterator[str]:
        return iter(_NAMED)

    def __len__(self) -> int:
        return len(_NAMED)


_CONSTITUENT = _Constituent()
_CAS = {
    "cas no", "cas number", "cas-no", "cas-number", "cas rn", "casrn", "cas nr", "cas-nr", "cas#", "cas #",
    "cas registry number", "cas registry no", "cas registry nr", "cas reg no", "cas reg number",
}  # fmt: skip
_SHARE = {
    "%", "area", "area ratio", "peak area", "relative area", "relative peak area", "rel area", "gc area", "fid area",
    "gc-fid area", "gc-fid", "gc-fid peak area", "percentage", "content", "composition", "relative content", "amount",
    "relative amount", "concentration", "share", "mean", "average", "mass %", "% mass", "weight %", "% weight",
}  # fmt: skip
_LOW = {"low", "min", "minimum", "lowest", "lower limit", "lower end", "lower bound", "from"}
_LOW |= {f"{word} {what}" for word in ("min", "minimum", "lowest") for what in ("value", "content", "share", "area")}
_HIGH = {"high", "max", "maximum", "highest", "upper limit", "upper end", "upper bound", "to"}
_HIGH |= {f"{word} {what}" for word in ("max", "maximum", "highest") for what in ("value", "content", "share", "area")}
_MATERIAL = {"material name", "name of material", "ingredient", "raw material", "bottle"}
_FORMULA = {"molecular formula", "mol formula"}
_SYNONYMS = {"synonym", "other name", "other names", "also known as"}
_GRAMS = {"g", "gram", "grams g", "weight g", "mass g", "amount g", "quantity g", "poured", "poured g", "weighed"}
_POURED = {"poured", "poured g", "weighed", "really poured"}
_PRICE = {"price/kg", "price kg", "price per kilo", "price per kilogram", "price per kilogramme", "price", "cost",
          "cost per kg", "cost/kg", "cost kg", "price /kg", "cost /kg"}  # fmt: skip
_STRENGTH = {"dilution", "diluted to", "concentration", "dil"}
_CARRIER = {"solvent", "diluent", "diluted in", "dilutant", "dissolved in"}
_STOCK = {"stock", "in stock", "on hand", "quantity", "amount", "weight", "left", "grams", "gram", "g"}
_KEEPS = {"shelf life months", "shelf life", "keeps months", "keeps", "best before months", "life months"}
_NOTE = {"notes", "remark", "remarks", "comment", "comments", "observation", "observations"}
_LOT = {"lot no", "lot number", "batch", "batch no", "batch number", "lot/batch", "batch/lot", "lot nr", "charge"}
_OPENED = {"date opened", "opened on", "open since", "opening date"}

_PACK = {"pack", "pack size", "pack size g", "size", "size g"}
_PACK_PRICE = {"price per pack", "price/pack", "price of pack", "price of the pack"}

_BOTTLES: Mapping[str, Collection[str]] = {
    "material": {*_MATERIAL, "name"}, "price_per_kg": _PRICE, "strength": _STRENGTH, "carrier": _CARRIER,
    "stock_g": _STOCK, "keeps_months": _KEEPS, "note": _NOTE, "lot": _LOT, "opened": _OPENED,
}  # fmt: skip

WORDS: Mapping[str, Mapping[str, Collection[str]]] = {
    "target": {"constituent": _CONSTITUENT, "cas": _CAS, "low": _LOW, "high": _HIGH},
    "bottles": _BOTTLES,
    "catalogue": {**_BOTTLES, "pack_g": _PACK, "pack_price": _PACK_PRICE},
    "compositions": {
        "material": _MATERIAL, "part": _CONSTITUENT, "share": _SHARE, "low": _LOW, "high": _HIGH, "lot": _LOT,
        "carrier": _CARRIER - {"diluted in"},
    },
    "constituents": {"constituent": _CONSTITUENT, "cas": _CAS, "synonyms": _SYNONYMS, "formula": _FORMULA},
    "limits": {"max": {"max", "maximum", "limit", "most", "max level"}, "members": {"substances", "constituents"}},
    "formula": {
        "material": {*_MATERIAL, "name"}, "grams": _GRAMS, "strength": _STRENGTH, "carrier": _CARRIER, "lot": _LOT,
    },
    "poured": {
        "material": {*_MATERIAL, "name"}, "poured_g": _POURED, "grams": _GRAMS - _POURED, "strength": _STRENGTH,
        "carrier": _CARRIER, "lot": _LOT,
    },
}  # fmt: skip
"""By table and column: what else its heading may say. A column that is there by its own name is not looked for."""

_ALL = {word for table in WORDS.values() for name, words in table.items() for word in (name, *words)}
_ALL |= {column.name for table in WORDS for column in TABLES[table]}

_ASIDE = {
    "no", "nr", "#", "peak", "peak no", "peak nr", "peak number", "identification", "id", "method", "methods",
    "identification method", "class", "molecular formula", "mw", "molecular weight", "molar mass", "m/z", "reference",
    "references", "quality", "si", "rsi", "match", "match factor", "match quality", "similarity", "similarity index",
    "probability", "rf", "rrf", "response factor", "relative response factor", "fid response factor",
    "correction factor", "sum", "total", "variance", "uncertainty", "±", "ref", "refs", "lit", "literature", "lsd",
    "p-value", "p value", "difference", "diff", "delta", "δ", "rank", "odour", "odor", "odour note", "threshold",
    "odour threshold", "density", "log p", "logp", "note", "notes", "remark", "remarks", "comment", "comments",
    "number", "n°", "№", "s no", "s number", "sr no", "serial no", "source", "formula", "class of compound",
    "compound class", "chemical class", "group", "type", "sign", "significance", "contribution", "cumulative",
    "cumulative contribution", "library/id", "method of identification", "identified by", "mode of identification",
    "arithmetic retention index", "si/ms", "ms", "ions", "main ions", "origin", "mol weight",
}  # fmt: skip
_RETENTION = re.compile(
    r"(?:(?:[lkre]?ri|r ?t|t r|(?:linear |relative )?retention (?:time|index|indices)|ret time|rettime|kovats|"
    r"kovats index|arithmetic index)(?:[ /].*)?|(?:[lk]?ri|rt) ?\d|[lkr]?ri[ -]?(?:exp|lit|calc|cal|obs|db)"
    r"|(?:time|ki|ai|tr)(?: (?:min|s|sec|exp|lit|calc|cal|obs|ref|[a-c]))+|time|ki|ai)"
)
_DEVIATION = re.compile(
    r"(?:r?sd|(?:rel(?:ative)? )?(?:std|st|standard)(?: ?dev(?:iation)?)|std|stdev|sem?|standard error"
    r"(?: of (?:the )?mean)?|cv|coefficient of variation)"
)
_DEVIATION_INSIDE = re.compile(r"\b(?:r?sd|std(?: ?dev)?|stdev|standard deviation|sem|cv)\b")
_RANGE = re.compile(r"ranges?(?: .*)?|(?:min|minimum|low|lowest) ?[-–/] ?(?:max|maximum|high|highest)|min max")
_MEAN = re.compile(r"(?:mean|average|avg|median)(?: .*)?")
_STATISTIC = re.compile(
    r"\b(?:min|minimum|lowest|max|maximum|highest|r?sd|std|stdev|deviation|error|sem|cv|total|sum|median|variance"
    r"|lower|upper|standard|ratio|n(?! ?=))\b|±"
)
_NO_MASS = re.compile(
    r"\bmol(?:e|ar|es)?\b\W{0,3}(?:%|fraction|percent)|%\W{0,2}mol|\bv/[vwm]\b|\b[wm]/v\b|\bvol(?:ume)?\b\W{0,3}%"
    r"|%\W{0,2}vol|\b(?:[mµμu]l|[mµμu]mol)\b|\b(?:[mµμun]?g|ml)/(?:m?l|m3|m³)\b",
    re.IGNORECASE,
)
_SMALL = re.compile(
    r"‰|\bppm\b|\bppb\b|\bppt\b|\b(?:[mµμun]?g)/k?g\b|\b[mµμu]g/100 ?g\b|\bper mille?\b"
    r"|\bparts per (?:thousand|million|billion)\b",
    re.IGNORECASE,
)
_MASS = re.compile(r"(?:^|[\s(\[,/])(?:[mkµμun]?g|g/mol|min|°C|counts|area counts)(?:$|[\s)\],])")
_WEIGHED = re.compile(r"(?:^|[\s(\[,])([mkµμ]?g|grams?)(?:$|[)\]])", re.IGNORECASE)
_PERCENT = re.compile(r"%|\bpercent\b|\b[wm]/[wm]\b|\bg/100 ?g\b|\bby (?:mass|weight)\b|\bwt\b")
_UNSAID = re.compile(rf"{_PERCENT.pattern}|[€$£¥]|\b(?:eur|euros?|usd|chf|gbp)\b")
"""What says nothing that the column does not: percent, a currency."""
_FOOTNOTE = re.compile(r"(.+?)(?: [a-h])+")
_GLUED = re.compile(r"([A-Z]{2,4}|[A-Z]?[a-z]{4,}?)[a-h]")
"""A raised letter that came down beside its word: `RIa`, `Compoundb`."""


@lru_cache(maxsize=4096)
def key(heading: str) -> str:
    """Return a heading without case, brackets, commas and footnote marks."""
    bare = re.sub(r"[\(\)\[\],:]", " ", heading.casefold())
    bare = re.sub(r"(?:[\*†‡§¹²³⁴-⁹ᵃᵇᶜᵈᵉᶠᵍ]|\^\w{1,2})+(?=\s|$)(?:\s+\w$)?", "", bare.strip())
    return re.sub(r"\s+", " ", bare).strip()


@lru_cache(maxsize=4096)
def bare(heading: str) -> str:
    """Return the key of a heading without full stops, underscores and what means percent: `Min. %` is `min`."""
    text = " ".join(_UNSAID.sub(" ", key(heading).replace(".", "").replace("_", " ")).split())
    return text or ("%" if says_percent(heading) else "")


@lru_cache(maxsize=4096)
def forms(heading: str) -> tuple[str, ...]:
    """Return what a heading may say: as it is, and without a footnote letter behind it."""
    plain = bare(heading)
    lettered, glued = _FOOTNOTE.fullmatch(plain), _GLUED.fullmatch(heading.strip())
    return (plain, *([lettered[1]] if lettered else []), *([bare(glued[1])] if glued else []))


@lru_cache(maxsize=4096)
def says_percent(heading: str) -> bool:
    """Whether a heading says that its numbers are percentages: `Weight %` is no weight."""
    return bool(_PERCENT.search(key(heading)))


@lru_cache(maxsize=4096)
def as_column(heading: str) -> str:
    """Return the key of a heading as the names of columns are written: `price per kg` is `price_per_kg`."""
    return re.sub(r"[ -]", "_", key(heading))


def names_something(heading: str) -> bool:
    """Whether a heading stands above names: of constituents, parts or materials."""
    if key(heading) in {"material", "part", "rule", *_MATERIAL}:
        return True
    return any(form in _CONSTITUENT for form in forms(heading))


def is_heading(cell: str) -> bool:
    """Whether a cell is what some table heads a column with."""
    return bool(cell) and (
        names_something(cell)
        or is_aside(cell)
        or any(form in _ALL or re.sub(r"[ -]", "_", form) in _ALL for form in (key(cell), *forms(cell)))
    )


def is_aside(heading: str, headings: Collection[str] = ()) -> bool:
    """Whether a column of this heading holds no share; `headings` are all of its table."""
    if heading in {"n", "n."} or re.fullmatch(r"t_?[Rr](?:[ /(].*)?", heading):  # N and TR may be samples
        return True
    for form in forms(heading):
        if form in _ASIDE or _RETENTION.fullmatch(form) or _DEVIATION.fullmatch(form.strip("±+-/ ")):
            return True
    return _deviation_of(heading, headings)


def _deviation_of(heading: str, headings: Collection[str]) -> bool:
    """Whether this is the deviation that goes with another column: `G1 SD` with `G1` or `Mean G1`."""
    if not _DEVIATION_INSIDE.search(bare(heading)) or re.search(r"mean|average|±", heading.casefold()):
        return False
    of = " ".join(_DEVIATION_INSIDE.sub(" ", bare(heading)).split())
    others = (re.sub(r"\b(?:mean|average)\b", " ", bare(other)) for other in headings if other != heading)
    return any(" ".join(other.split()) == of for other in others)


def is_range(heading: str) -> bool:
    """Whether each cell holds both ends of a range."""
    return any(_RANGE.fullmatch(form) for form in forms(heading))


def is_mean(heading: str) -> bool:
    """Whether a column holds a mean of others."""
    return any(_MEAN.fullmatch(form) for form in forms(heading))


def is_statistic(heading: str) -> bool:
    """Whether a heading has a word of statistics in it, other than a mean and its deviation in one cell."""
    return not is_mean(heading) and bool(_STATISTIC.search(re.sub(r"±\s*r?s\.?[de]\b.*", "", bare(heading))))


def no_mass(heading: str) -> str:
    """Return the unit of amount or volume that a heading names; or ""."""
    found = _NO_MASS.search(heading)
    return found[0] if found else ""


def small_unit(heading: str) -> str:
    """Return the unit smaller than percent that a heading names; or ""."""
    found = _SMALL.search(heading)
    return found[0] if found else ""


def other_unit(heading: str) -> bool:
    """Whether a heading names a unit that is no share: `Amount (mg)`."""
    return not small_unit(heading) and bool(_MASS.search(re.sub(r"g/100 ?g", " ", heading)))


def weighed(heading: str) -> str:
    """Return the unit of a heading that says masses and no share: `g`, `Amount (mg)`; "" if there is none."""
    found = _WEIGHED.search(heading) if not _PERCENT.search(key(heading)) else None
    return found[1] if found and not small_unit(heading) else ""


def says_area(heading: str) -> bool:
    """Whether a heading says that its percentages are of peak area."""
    return bool(re.search(r"\b(?:area|fid|tic)\b", key(heading).replace("_", " ")))
