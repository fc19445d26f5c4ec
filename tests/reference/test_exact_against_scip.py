"""The exact search against SCIP on the same programmes, stated in cvxpy.

Outside check: SCIP is a branch-and-bound solver of other people over outer approximations of cones; it shares
neither relaxation nor bound nor branching with ours. Its value is recomputed from its amounts. Where SCIP says
"infeasible", HiGHS has been asked as well (`reference`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import pytest
from tests import scip_apart
from tests.random_programmes import realistic, small
from tests.seeds import drawn, seeds
from tests.whole_search import whole_search

from reaccord.contract import Answer, Budget, Programme
from reaccord.solvers import exact

pytest.importorskip("pyscipopt", reason="SCIP comes with the extra `test`")

EXACTLY = Budget(gap=1e-8, seconds=60)
SECOND = Budget(gap=1e-6, seconds=60)  # SCIP's own tolerances are 1e-8, the reference door claims no more than 1e-7


@dataclass
class Tally:
    """How two doors agreed: pairs of statuses, and every way in which they did not."""

    pairs: Counter[tuple[str, str]] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def add(self, name: str, programme: Programme, ours: Answer, scip: Answer | None) -> None:
        self.pairs[ours.status, "no_answer" if scip is None else scip.status] += 1
        if scip is None:
            return
        if "no_answer" in (ours.status, scip.status):
            return
        if ours.amounts is None or scip.amounts is None:
            if ours.status != scip.status:
                self.faults.append(f"{name}: {ours.status} here, {scip.status} there")
            return
        both = {"ours": ours, "scip": scip}
        least = min(answer.value for answer in both.values())
        for who, answer in both.items():
            assert answer.amounts is not None
            self._require(answer.value == programme.value(answer.amounts), f"{name}: {who} did not recompute")
            self._require(programme.excess(answer.amounts) <= 1e-7, f"{name}: {who} breaks a limit")
            self._require(answer.bound <= least * (1 + 1e-9) + 1e-12, f"{name}: {who} bound over a value")
        if ours.status == scip.status == "proven":
            apart = abs(ours.value - scip.value)
            self._require(apart <= max(1e-6 * least, 1e-9), f"{name}: {ours.value} here, {scip.value} there")

    def _require(self, holds: bool, fault: str) -> None:
        if not holds:
            self.faults.append(fault)


def tally(programmes: Iterable[tuple[str, Programme]], ours: Budget, scip: Budget) -> Tally:
    """Return how the exact door and SCIP agree; what it settles without its search is searched as well, for faults."""
    found, searched = Tally(), Tally()
    for name, programme in programmes:
        answer, theirs = exact.solve(programme, ours), scip_apart.scip(programme, scip)
        found.add(name, programme, answer, theirs)
        if answer.warm is None:
            searched.add(f"{name}, searched", programme, whole_search(programme, ours), theirs)
    found.faults += searched.faults
    return found


@pytest.mark.parametrize("part", drawn(range(15), range(15, 75), range(75, 125), range(125, 200)), ids=str)
def test_small_programmes(part: range) -> None:
    found = tally(((f"small {seed}", small(seed)) for seed in part), EXACTLY, SECOND)
    assert found.faults == []
    # they settle nearly all of them, and both kinds of verdict occur: the comparison is not empty
    assert found.pairs["proven", "proven"] + found.pairs["infeasible", "infeasible"] >= 0.94 * len(part)
    assert found.pairs["proven", "proven"] >= 0.6 * len(part)
    assert found.pairs["infeasible", "infeasible"] >= 0.04 * len(part)


@seeds(0, 1, 2)
@pytest.mark.parametrize(
    ("lines", "strengths"), [(None, ()), (8, ()), (None, (0.1,))], ids=["plain", "lines", "strengths"]
)
def test_shelves_of_a_realistic_make(lines: int | None, strengths: tuple[float, ...], seed: int) -> None:
    programme = realistic(30, 28, seed, lines=lines, strengths=strengths)
    found = tally([("shelf", programme)], EXACTLY, Budget(gap=1e-5, seconds=60))
    assert found.faults == []
    assert found.pairs in (Counter({("proven", "proven"): 1}), Counter({("infeasible", "infeasible"): 1}))


@pytest.mark.sweep
def test_a_thousand_small_programmes() -> None:
    found = tally(((f"small {seed}", small(seed)) for seed in range(200, 1200)), EXACTLY, SECOND)
    print(found.pairs)
    assert found.faults == []
    assert found.pairs["proven", "proven"] + found.pairs["infeasible", "infeasible"] >= 990
