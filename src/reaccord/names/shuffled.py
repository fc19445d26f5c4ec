"""Known names whose words stand in another order: `methyl ether eugenol`, `eugenol methyl-`, `ionone methyl alpha`.

Only names without figures: those count from where they stand. Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import permutations

from reaccord.names.index import NameIndex
from reaccord.names.key import fold

MOST_WORDS = 5

_WORD = re.compile(r"[a-z]+")
_ON_OXYGEN = re.compile(r"^\d'?-(?=o-)")
_RADICALS = ("methyl", "ethyl", "acetyl")
_PHENOL = re.compile(r"[a-z]*(?<!phen)(?<!cres)ol")
_NOT_ONE = {
    ("gamma", "ionone", "methyl"): ("alpha-isomethyl ionone", "methyl ionone"),
    ("gamma", "methylionone"): ("alpha-isomethyl ionone", "methyl ionone"),
}
"""Trade names of a mixture and of what most of it is, by their words in order."""


def in_another_order(index: NameIndex, name: str) -> tuple[str, ...]:
    """Return the names of the known constituents that the same words name in another order, in order of name."""
    plain = _ON_OXYGEN.sub("", fold(name))
    words = _WORD.findall(plain)
    if any(char.isdigit() or char in "+±/&;" for char in plain) or not 1 < len(words) <= MOST_WORDS:
        return ()
    meant = {index.find_lasting(known) for known in _NOT_ONE.get(tuple(sorted(words)), ())} - {None}
    for some in (words, *_without_oxygen(words)) if not meant else ():
        letters = "".join(word for word in some if len(word) == 1)  # behind: m and ethyl are no methyl
        orders = permutations([word for word in some if len(word) > 1])
        meant.update(index.lastingly("".join(order) + letters) for order in orders)
    return tuple(sorted(known for known in meant if known))


def _without_oxygen(words: list[str]) -> Iterator[list[str]]:
    """Yield the words of an ether of a phenol (`O-methyl thymol`) as other names of it have them."""
    rest = [word for word in words if word != "o"]
    groups = [word for word in rest if word.startswith(_RADICALS)]
    if (
        groups
        and len(rest) < len(words)
        and all(word in {*groups, "ether"} or _PHENOL.fullmatch(word) for word in rest)
    ):
        yield rest
        yield [*rest, "ether"]
