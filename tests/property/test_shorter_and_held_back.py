"""Drawn studies: a shortened formula keeps what is promised of it, and what is said to hold back does."""

from __future__ import annotations

from dataclasses import replace

from tests.random_studies import draw
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import judge
from reaccord.answer.shorten import allowed
from reaccord.answer.why.holding import without
from reaccord.contract import Budget
from reaccord.findings import NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.solvers.choose import solve


def fitted(seed: int, shorten: str) -> Fit | None:
    draft = draw(seed)
    draft.settings["fit"]["shorten"] = shorten
    try:
        return fit(draft.study())
    except (NoFormula, NoAnswer):
        return None


@seeds(700, 725, 760, 1500)
def test_a_shorter_formula_is_within_the_allowance_and_the_limits(seed: int) -> None:
    share = (0.005, 0.05, 0.3)[seed % 3]
    found = fitted(seed, f"{100 * share:g} %")
    if found is None:
        return
    assert not judge(found.study, found.amounts).broken
    if found.shorter is None:
        assert found.rounded_from is found.judged_before
        return
    before, short = found.judged_before, found.shorter
    assert len(found.judged.lines) <= len(short.lines) < len(before.lines)
    assert before.closeness.value < short.closeness.value <= allowed(before.closeness.value, share) * (1 + 1e-9)
    whole = fit(found.study, shorten=False)
    assert (whole.bound, whole.gap, whole.answer.status) == (found.bound, found.gap, found.answer.status)
    assert whole.judged_before == before


@seeds(700, 715, 740, 1500)
def test_what_holds_back_lets_a_closer_formula_go(seed: int) -> None:
    found = fitted(seed, "0 %")
    if found is None:
        return
    for key, holds in found.holding.items():
        loosened = without(found.study, state(found.study), key)
        assert len(loosened.rows) == len(state(found.study).rows)
        answer = solve(loosened, replace(Budget(), gap=1e-4))
        if holds:
            assert answer.value < found.judged_before.closeness.value
        elif found.judged_before.closeness.value > 1e-9:
            assert answer.value >= found.judged_before.closeness.value * (1 - 1.2e-3)
