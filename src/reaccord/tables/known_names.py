"""Which names are known before any is settled: the registry's, and those of a study's own tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from reaccord.domain.lines import ConstituentLine
from reaccord.names.index import known_to_all
from reaccord.names.joined import split_joined
from reaccord.names.key import name_key


def known_names(own: Iterable[ConstituentLine], materials: Iterable[str]) -> Callable[[str], bool]:
    """Return whether a name is one of a known constituent, or of one of these materials."""
    told = {name_key(name) for line in own for name in (line.constituent, *line.synonyms)}
    told |= {name_key(name) for name in materials}
    return lambda name: any(name_key(piece) in told or known_to_all(piece) for piece in split_joined(name))
