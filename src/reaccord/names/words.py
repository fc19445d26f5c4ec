"""Words that mean the same within names of substances: trade words against systematic ones.

Each pair names one group of atoms, whatever stands beside it; nothing here joins isomers. The trade names of
straight-chain acids, aldehydes and alcohols, of branched radicals and of esters are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from reaccord.names.key import name_key

_CHAINS = (
    "prop but pent hex hept oct non dec undec dodec tridec tetradec pentadec hexadec heptadec octadec nonadec eicos "
    "icos heneicos henicos docos tricos tetracos pentacos hexacos heptacos octacos nonacos triacont"
)
STRAIGHT = "|".join(sorted(_CHAINS.split(), key=len, reverse=True))
"""Stems of straight chains, longest first."""

_TRADE = {
    "prop": "propion",
    "but": "butyr",
    "pent": "valer valerian",
    "hex": "capro capron",
    "hept": "enanth oenanth",
    "oct": "capryl",
    "non": "pelargon",
    "dec": "capr caprin",
    "undec": "undecyl",
    "dodec": "laur",
    "tetradec": "myrist",
    "hexadec": "palmit",
    "octadec": "stear",
}
"""Trade stems of the straight acids and aldehydes by the systematic one."""
_RADICALS = {"laur": "dodec", "myrist": "tetradec", "am": "pent"}
ALCOHOLS = {
    "linalyl": "linalool",
    "geranyl": "geraniol",
    "neryl": "nerol",
    "citronellyl": "citronellol",
    "menthyl": "menthol",
    "bornyl": "borneol",
    "fenchyl": "fenchol",
    "terpinyl": "terpineol",
    "carvyl": "carveol",
    "myrtenyl": "myrtenol",
    "lavandulyl": "lavandulol",
    "farnesyl": "farnesol",
    "nerolidyl": "nerolidol",
    "cedryl": "cedrol",
    "santalyl": "santalol",
    "eugenyl": "eugenol",
    "thymyl": "thymol",
    "carvacryl": "carvacrol",
    "pulegyl": "pulegol",
    "verbenyl": "verbenol",
    "sabinyl": "sabinol",
    "nopyl": "nopol",
    "prenyl": "prenol",
    "guaiyl": "guaiol",
    "phytyl": "phytol",
    "isophytyl": "isophytol",
    "piperityl": "piperitol",
    "bisabolyl": "bisabolol",
    "elemyl": "elemol",
}
"""Alcohols by the radical of their esters, where neither is a systematic name."""


def _pairs() -> Iterator[tuple[str, str]]:
    """Yield tight words and the one each is written as."""
    for stem in _CHAINS.split():
        for ending in ("ylaldehyde", "aldehyde", "analdehyde"):
            yield stem + ending, f"{stem}anal"
        yield f"{stem}ylalcohol", f"{stem}anol"
    for stem, trade in _TRADE.items():
        for word in trade.split():
            yield f"{word}ate", f"{stem}anoate"
            yield f"{word}icacid", f"{stem}anoicacid"
            yield f"{word}icaldehyde", f"{stem}anal"
            yield f"{word}icalcohol", f"{stem}anol"
            yield f"{word}aldehyde", f"{stem}anal"
    for radical, stem in _RADICALS.items():
        yield f"{radical}yl", f"{stem}yl"
        yield f"{radical}ylaldehyde", f"{stem}anal"
        yield f"{radical}ylalcohol", f"{stem}anol"
    for radical, alcohol in ALCOHOLS.items():
        yield f"{radical}alcohol", alcohol


_BRANCHED = {
    "isobutyl": ("(2-methylpropyl)", "2-methylpropyl", "2-methyl-1-propyl"),
    "isopentyl": ("(3-methylbutyl)", "3-methylbutyl", "isoamyl", "3-methyl-1-butyl"),
    "isopropyl": ("(1-methylethyl)", "1-methylethyl"),
    "tertbutyl": ("(1,1-dimethylethyl)", "1,1-dimethylethyl"),
    "allyl": ("(2-propenyl)", "(2-propen-1-yl)"),
    "benzyl": ("(phenylmethyl)",),
    "phenylethyl": ("2-phenylethyl", "2-phenethyl", "phenethyl", "benzylcarbinyl"),
    "prenyl": ("3-methyl-2-butenyl",),
    "linalyl": ("3,7-dimethyl-1,6-octadien-3-yl",),
    "citronellyl": ("3,7-dimethyl-6-octenyl",),
    "isobutanoate": ("2-methylpropanoate", "2-methylpropionate", "isobutyrate"),
    "isopentanoate": ("3-methylbutanoate", "3-methylbutyrate", "isovalerate", "isovalerianate"),
    "isobutanoicacid": ("2-methylpropanoicacid", "2-methylpropionicacid", "isobutyricacid"),
    "isopentanoicacid": ("3-methylbutanoicacid", "3-methylbutyricacid", "isovalericacid", "isovalerianicacid"),
    "isobutanal": ("2-methylpropanal", "isobutyraldehyde", "isobutylaldehyde"),
    "isopentanal": ("3-methylbutanal", "isovaleraldehyde", "isoamylaldehyde", "3-methylbutyraldehyde"),
    "isobutanol": ("2-methylpropanol", "isobutylalcohol"),
    "isopentanol": ("3-methylbutanol", "isoamylalcohol", "isopentylalcohol", "3-methylbutylalcohol"),
    "isopropanol": ("isopropylalcohol", "2-propanol"),
    "2-phenylethanol": (
        "phenylethylalcohol",
        "2-phenylethylalcohol",
        "phenethylalcohol",
        "2-phenethylalcohol",
        "benzylcarbinol",
        "benzeneethanol",
    ),
    "1-phenylethanol": ("1-phenylethylalcohol",),
    "3-phenylpropanol": ("benzenepropanol",),
    "3-phenylpropanal": ("benzenepropanal",),
    "benzylalcohol": ("benzenemethanol",),
    "phenylaceticacid": ("benzeneaceticacid", "2-phenylethanoicacid"),
    "acetate": ("ethanoate",),
    "formate": ("methanoate",),
    "salicylate": ("2-hydroxybenzoate",),
    "anthranilate": ("2-aminobenzoate",),
    "phenylacetate": ("2-phenylacetate", "benzeneacetate", "phenylethanoate"),
    "cinnamate": ("3-phenyl-2-propenoate", "3-phenylpropenoate"),
    "sulfide": ("sulphide",),
    "oxide": ("oxyde",),
    "heptanal": ("enanthal", "oenanthal"),
    "heptanoate": ("heptylate", "heptoate"),
    "cinnamaldehyde": ("cinnamicaldehyde", "cinnamylaldehyde"),
    "benzaldehyde": ("benzoicaldehyde",),
    "cuminaldehyde": ("cuminicaldehyde", "cumicaldehyde", "cuminylaldehyde", "cumaldehyde"),
    "anisaldehyde": ("anisicaldehyde",),
    "salicylaldehyde": ("salicylicaldehyde",),
    "phenylacetaldehyde": ("phenylaceticaldehyde", "benzeneacetaldehyde"),
    "hydratropaldehyde": ("hydratropicaldehyde",),
    "perillaldehyde": ("perillicaldehyde",),
    "citronellal": ("citronellicaldehyde",),
    "linalool": ("linalol",),
}
"""Words of one meaning by the one used here. `2-propenyl` without brackets may be a propenyl at the second atom."""
_OF_ESTER = re.compile(r"^(?:(phenylmethyl)|2propenyl)(?=[a-z\d]*ate$)")
_OLE = re.compile(r"ole$")


@cache
def _same() -> dict[str, str]:
    table = dict(_pairs())
    for word, others in _BRANCHED.items():
        table.update((name_key(other), name_key(word)) for other in others)
    return {other: word for other, word in table.items() if other != word}


@cache
def _lengths() -> dict[str, tuple[int, ...]]:
    """Return how long the words are that begin with three letters, longest first."""
    found: dict[str, set[int]] = {}
    for word in _same():
        found.setdefault(word[:3], set()).add(len(word))
    return {start: tuple(sorted(lengths, reverse=True)) for start, lengths in found.items()}


def _begins(tight: str, place: int) -> bool:
    """Whether a word may begin here: locants are taken whole, and the a of cinnamaldehyde is its own."""
    if tight[place].isdigit():
        return place == 0 or not (tight[place - 1].isdigit() or tight[place - 1] == ",")
    return not (tight[place] == "a" and tight.endswith("inn", 0, place))


def _exchanged(tight: str) -> str:
    """Return a name with its words in the one usage: the longest from the first place on.

    Looked up, not searched for: to compile a pattern of 300 words takes longer than to read 50 names.
    """
    same, lengths = _same(), _lengths()
    found, kept, place = [], 0, 0
    while place < len(tight) - 2:
        for length in lengths.get(tight[place : place + 3], ()):
            word = same.get(tight[place : place + length])
            if word is not None and place + length <= len(tight) and _begins(tight, place):
                found += [tight[kept:place], word]
                kept = place = place + length
                break
        else:
            place += 1
    return "".join((*found, tight[kept:]))


def one_word(tight: str) -> str:
    """Return a name without blanks and loose hyphens in the words of one usage."""
    for _ in range(2):
        before, tight = tight, _exchanged(tight)
        if tight == before:
            break
    tight = _OF_ESTER.sub(lambda found: "benzyl" if found[1] else "allyl", tight)
    return _OLE.sub("ol", tight)
