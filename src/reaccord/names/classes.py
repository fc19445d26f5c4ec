"""Names that stand for many substances at once: classes, and the rest that an analysis leaves unnamed.

Common practice, no source: the words below are how published analyses call their subtotals.
"""

from __future__ import annotations

import re

from reaccord.names.key import fold

_TERPENES = r"(?:(?:hemi|mono|sesqui|di|tri|nor|non)?-?(?:iso)?terpen(?:es|oids))"
_KINDS = (
    r"(?:hydrocarbons?|alcohols|aldehydes|ketones|esters|ethers|phenols|phenolics|oxides|peroxides|lactones|acids|"
    r"alkanes|alkenes|acetates|derivatives|compounds|constituents|components|fraction|volatiles)"
)
_SINGULAR = r"(?:(?:hemi|mono|sesqui|di|tri)?-?terpen(?:e|ic|oid))"
_BEFORE = (
    r"(?:oxygenated|oxygen-containing|oxidi[sz]ed|cyclic|acyclic|monocyclic|bicyclic|aliphatic|aromatic|saturated|"
    r"unsaturated|fatty|phenolic|carbonyl|nitrogen(?:ous|-containing)?|sul(?:f|ph)ur(?:-containing)?|benzenoid|linear|"
    r"branched|free|other|hydrocarbon|non-?terpen(?:e|ic|oid))"
)
_CLASS = re.compile(
    rf"(?:{_BEFORE}\s+)*(?:{_TERPENES}(?:\s+{_KINDS})?|{_SINGULAR}\s+(?:{_BEFORE}\s+)*{_KINDS}|"
    rf"hydrocarbons|alcohols|aldehydes|ketones|esters|ethers|phenols|oxides|lactones|(?:fatty\s+)?acids|"
    rf"(?:n-)?alkanes|alkenes|phenylpropan(?:oids|es)|phenylpropene?s|benzenoids|norisoprenoids|coumarins|"
    rf"(?:{_BEFORE}\s+)+{_KINDS})"
)
_REST = re.compile(
    r"(?:the\s+)?(?:"
    r"(?:(?:not|un)[- ]?(?:identified|known|determined|assigned|declared|named)|n\.?\s?i\.?|others?|minor|trace|"
    r"remaining|miscellaneous|various)"
    r"(?:\s+(?:compounds?|constituents?|components?|substances?|peaks?|volatiles|minor))*"
    r"|unknowns|unidentifieds|rest|remainder|balance|minors)"
)
_MARKS = re.compile(r"^[\s\d.)\]-]*|[\s:(%)\[\]]*$")


def is_class(name: str) -> bool:
    """Whether a name is one of a class of substances, as `Monoterpene hydrocarbons` or `Esters`.

    >>> is_class("Oxygenated sesquiterpenes"), is_class("linalyl acetate")
    (True, False)
    """
    return bool(_CLASS.fullmatch(_bare(name)))


def is_rest(name: str) -> bool:
    """Whether a name stands for what an analysis leaves unnamed, as `unidentified` or `others`.

    >>> is_rest("Not identified"), is_rest("unknown sesquiterpene")
    (True, False)
    """
    return bool(_REST.fullmatch(_bare(name)))


def _bare(name: str) -> str:
    return " ".join(_MARKS.sub("", fold(name)).split())
