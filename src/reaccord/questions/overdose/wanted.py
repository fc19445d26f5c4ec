"""Which constituents a person means, and at which multiples."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.names.key import name_key, nearest

MOST_STEPS = 900
MOST_TIMES = 1e6


@dataclass(frozen=True)
class Wanted:
    """One constituent of the series: its name in this study, and everything that counts as it."""

    name: str
    members: frozenset[str]


def read_times(text: str, *, least: float) -> tuple[float, ...]:
    """Read `1,2,4,8`: different numbers of at least `least`, in the order given; 0 leaves the constituent out.

    Raises
    ------
    UsageError
        For anything else.
    """
    found: list[float] = []
    for piece in text.split(","):
        try:
            times = float(piece)
        except ValueError:
            raise UsageError(f'--times takes numbers such as 1,2,4,8, not "{piece.strip()}".') from None
        if not 0 <= times < MOST_TIMES:
            raise UsageError(f"--times must be from 0 to below {MOST_TIMES:,.0f}, not {piece.strip()}.")
        if times < least:
            raise UsageError(
                f"a spike only adds, so --times begins at 1, not {piece.strip()}; --mode refit takes less, and 0."
            )
        if times in found:
            raise UsageError(f"--times names {times:g} twice.")
        found.append(times)
    return tuple(found)


def read_wanted(study: Study, text: str) -> tuple[Wanted, ...]:
    """Read `--of`: rows of the target or constituents by any of their names, separated by commas.

    A name may hold commas itself: of all ways to read the text the one with the fewest names counts.

    Raises
    ------
    UsageError
        For a name that nothing knows, with the nearest one, or one that stands twice.
    """
    known = _known(study)
    pieces = text.split(",")

    @cache
    def split(start: int) -> tuple[str, ...] | None:
        if start == len(pieces):
            return ()
        ways = []
        for end in range(start + 1, len(pieces) + 1):
            name = name_key(",".join(pieces[start:end]).strip())
            rest = split(end) if name in known else None
            if rest is not None:
                ways.append((name, *rest))
        return min(ways, key=len, default=None)

    names = split(0)
    if names is None:
        unknown = next((p.strip() for p in pieces if name_key(p.strip()) not in known), text)
        hint = nearest(unknown, [found.name for found in known.values()])
        raise UsageError(f'--of: no constituent is called "{unknown}".' + (f' Did you mean "{hint}"?' if hint else ""))
    found = [known[name] for name in names]
    for wanted in found:
        if wanted.members <= study.carriers:
            raise UsageError(f"--of: {wanted.name} is a carrier in this study, and a carrier never counts as odorant.")
    if len({wanted.name for wanted in found}) < len(found):
        raise UsageError("--of names the same constituent twice.")
    return tuple(found)


def _known(study: Study) -> dict[str, Wanted]:
    found: dict[str, Wanted] = {}
    for constituent in study.constituents.values():
        wanted = Wanted(constituent.name, _covered(study, constituent.name))
        for text in (constituent.name, constituent.cas, *constituent.synonyms):
            if text:
                found[name_key(text)] = wanted
    for stock in study.stocks:
        for name in stock.content.typical:
            found.setdefault(name_key(name), Wanted(name, frozenset({name})))
    for row in study.target.rows:
        if row.kind in {"named", "foreign"}:
            found.setdefault(name_key(row.label), Wanted(row.label, row.members))
    return found


def _covered(study: Study, name: str) -> frozenset[str]:
    covered: set[str] = set()
    waiting = [name]
    while waiting:
        here = waiting.pop()
        if here not in covered:
            covered.add(here)
            waiting += study.constituents[here].members if here in study.constituents else ()
    return frozenset(covered)
