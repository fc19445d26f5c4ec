"""Looking further for formulas changes what is found, never what is true: against every choice of columns."""

from __future__ import annotations

import pytest
from benchmarks.correlated import correlated
from tests.seeds import seeds
from tests.unit.solvers.test_exact_lots import is_best_of_all_choices
from tests.whole_search import whole_search

from reaccord.contract import Budget
from reaccord.solvers.exact import further
from reaccord.solvers.exact.heuristic import Formulas
from reaccord.solvers.exact.search import Search


@pytest.fixture
def eager(monkeypatch: pytest.MonkeyPatch) -> dict[str, int]:
    """Let every search look further at once, and count how often it does."""
    seen = {"elsewhere": 0, "among": 0}
    monkeypatch.setattr(further, "AROUND", 1)
    monkeypatch.setattr(further, "AMONG", 2)
    monkeypatch.setattr(further, "FAR", 0.0)
    elsewhere, among = Formulas.elsewhere, Search._among

    def counted_elsewhere(self: Formulas, *args: object) -> None:
        seen["elsewhere"] += 1
        elsewhere(self, *args)  # type: ignore[arg-type]

    def counted_among(self: Search, *args: object) -> None:
        seen["among"] += 1
        among(self, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(Formulas, "elsewhere", counted_elsewhere)
    monkeypatch.setattr(Search, "_among", counted_among)
    return seen


@seeds(0, 5, 80)
def test_the_answer_is_still_the_best_of_all_choices(eager: dict[str, int], seed: int) -> None:
    is_best_of_all_choices(seed, whole_search)


def test_a_long_search_looks_around_and_among(eager: dict[str, int]) -> None:
    programme = correlated(40, 60, 0, 6)
    answer = whole_search(programme, Budget(gap=1e-4, seconds=60.0))
    assert answer.status == "proven"
    assert eager["elsewhere"] >= 2  # its own, and that of the search among a few columns
    assert eager["among"] == 1
    assert programme.excess(answer.amounts) <= 1e-9


def test_a_search_that_is_stopped_ends_what_looks_further(eager: dict[str, int]) -> None:
    asked = []

    def stop() -> bool:
        asked.append(None)
        return eager["among"] > 0

    answer = whole_search(correlated(60, 100, 1, 12), Budget(gap=1e-6, stop=stop))
    assert eager["among"] == 1
    assert answer.status in {"feasible", "proven"}
    assert answer.bound <= answer.value
