"""Names that stand for many substances at once: classes, and the rest that an analysis leaves unnamed.

Common practice, no source: the words below are how published analyses call their subtotals.
"""

from __future__ import annotations

import re
from functools import lru_cache

from reaccord.names.key import fold

_TERPENES = r"(?:(?:hemi|mono|sesqui|di|tri|nor|non)?-?(?:iso)?th?erpe?r?n(?:es|oids))"
"""Plural; `Monotherpenes` and `Monoterpernes` are printed too."""
_KINDS = (
    r"(?:hydrocarbons?|alcohols|aldehydes|ketones|esters|ethers|phenols|phenolics|oxides|epoxides|peroxides|lactones|"
    r"acids|alkanes|alkenes|acetates|derivatives|compounds?|constituents|components|fraction|volatiles)"
)
_SINGULAR = r"(?:(?:hemi|mono|sesqui|di|tri)?-?terpen(?:e|ic|oid))"
_BEFORE = (
    r"(?:oxygenated|oxygen|oxygen-containing|oxidi[sz]ed|cyclic|acyclic|monocyclic|bicyclic|aliphatic|aromatic|"
    r"saturated|unsaturated|fatty|phenolic|carbonyl|nitrogen(?:ous|-containing)?|sul(?:f|ph)ur(?:-containing)?|"
    r"benzenoid|linear|branched|free|other|hydrocarbon|non-?terpen(?:e|ic|oid))"
)
_CLASS = re.compile(
    rf"(?:{_BEFORE}\s+)*(?:{_TERPENES}(?:\s+(?:{_KINDS}|{_BEFORE}))?|{_SINGULAR}\s+(?:{_BEFORE}\s+)*{_KINDS}|"
    rf"hydrocarbons|alcohols|aldehydes|ketones|esters|ethers|phenols|oxides|epoxides|lactones|(?:fatty\s+)?acids|"
    rf"(?:n-)?alkanes|alkenes|phenyl ?propan(?:oids|es)|phenylpropene?s|benzenoids|norisoprenoids|coumarins|solvents|"
    rf"(?:{_BEFORE}\s+)+{_KINDS})"
)
_BETWEEN = re.compile(r"\s*(?:/|,|&|\band\b)\s*")
_CODE = re.compile(r"\s+(?:\([a-z]{1,3}\)|[a-z]{1,2})$")
"""An analysis gives its classes codes and repeats them behind the subtotal: `Oxygenated monoterpenes (MO)`."""
_UNNAMED = r"(?:(?:not|un|non)[- ]?(?:identified|known|determined|assigned|declared|named)|n\.?\s?i\.?)"
_REST = re.compile(
    rf"(?:the\s+)?(?:(?:{_UNNAMED}|others?|minor|trace|remaining|miscellaneous|various|grouped)"
    r"(?:\s+(?:compounds?|constituents?|components?|substances?|peaks?|volatiles|minor))*"
    rf"|(?:unknowns|unidentifieds|rest|remainder|balance|minors)"
    rf"|{_UNNAMED}(?:\s+(?:compound|peak|constituent|component))?\s*(?:no\.?\s*|#\s*)?(?:\d{{1,3}}|[a-h]|"
    rf"[\(\[](?:m|mw?|m/z|ri|rt|rri|ki|lri)\b.*))"
)
_ADDED = (
    r"(?:of|all|the|sum|total|totals|identified|unidentified|compounds?|constituents?|components?|content|contents|area|"
    r"peaks?|percentage|percent|amount|composition|volatiles?|oil|essential|bottles|stock|value|grams?|g|mass|weight)"
)
_TOTAL = re.compile(
    rf"(?:σ|sigma)?\s*(?:sub-?\s?)?(?:total|sum)s?(?:[\s,]+{_ADDED})*(?:\s*[:=]?\s*(?P<number>\d[\d.,]*))?"
)
_TOTAL_OF = re.compile(r"(?:sub-?\s?)?(?:total|sum)\s+(?:of\s+)?(?:the\s+)?(.+)")
_FIGURE = re.compile(
    rf"(?:total\s+)?(?:no\.?|number|n°|count)\s+of\s+(?:{_ADDED}\s*)+|(?:{_ADDED}\s+)*yields?\b.*|"
    r"(?:extraction|distillation) yields?\b.*|yields? of .*|"
    r"(?:specific gravity|density|refractive index|optical rotation)\b.*"
)
_MARKS = re.compile(r"^[\s\d.)\]-]*|[\s:,(%)\[\]]*$")
_PERCENT = re.compile(r"[\(\[]?\s*%(?:\s*[\)\]])?")


def is_class(name: str) -> bool:
    """Whether a name is one of a class of substances, as `Monoterpene hydrocarbons` or `Esters`.

    >>> is_class("Oxygenated sesquiterpenes"), is_class("linalyl acetate")
    (True, False)
    """
    return any(_is_one_class(form) or _all_classes(form) for form in _forms(name))


def is_rest(name: str) -> bool:
    """Whether a name stands for what an analysis leaves unnamed, as `unidentified` or `others`.

    >>> is_rest("Not identified"), is_rest("Unknown (m/z 119)"), is_rest("unknown sesquiterpene")
    (True, True, False)
    """
    return any(bool(_REST.fullmatch(form)) for form in (" ".join(fold(name).split()), *_forms(name)))


def is_total(name: str) -> bool:
    """Whether a name is that of a row that adds up others, as `Total identified` or `Total aldehydes`.

    >>> is_total("Σ total identified"), is_total("sum of ocimenes")
    (True, False)
    """
    bare = _bare(name)
    of = _TOTAL_OF.fullmatch(bare)
    return bool(_TOTAL.fullmatch(bare)) or bool(of and (is_class(of[1]) or is_rest(of[1])))


def is_figure(name: str) -> bool:
    """Whether a name is that of a figure about the whole: a yield, a number of constituents, a density.

    >>> is_figure("Yields (%)"), is_figure("No. of identified compounds"), is_figure("yuzu oil")
    (True, True, False)
    """
    return bool(_FIGURE.fullmatch(_bare(name)))


def _is_one_class(bare: str) -> bool:
    return bool(_CLASS.fullmatch(bare))


def _all_classes(bare: str) -> bool:
    pieces = _BETWEEN.split(bare)
    return len(pieces) > 1 and all(map(_is_one_class, pieces))


def _forms(name: str) -> tuple[str, str]:
    """Return a name without numbers, signs and units round it, and without the code of its class behind it."""
    return _bare(name), _bare(_CODE.sub("", _PERCENT.sub(" ", fold(name)).rstrip(" ,:")))


@lru_cache(maxsize=16384)
def _bare(name: str) -> str:
    return " ".join(_MARKS.sub("", _PERCENT.sub(" ", fold(name))).split())
