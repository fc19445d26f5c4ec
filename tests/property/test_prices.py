"""What is told of a moved limit is what the study says with that limit written into it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from tests.random_studies import KEYS_OF, Draft, draw
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.contract import Budget
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.findings import NoFormula
from reaccord.questions.prices.nearby import Found
from reaccord.questions.prices.price import LimitPrice
from reaccord.questions.prices.run import Prices, prices
from reaccord.study.changed import with_amount, with_bottle_cells, with_rule

SAME = 0.02
"""Relative; what the gap and a shorter formula leave open, and what one rounding or another costs."""


@seeds(0, 2, 12, 100)
def test_each_figure_is_that_of_the_study_written_so(seed: int) -> None:
    draft = draw(seed, measure="squares")
    try:
        found = fit(draft.study())
    except NoFormula:
        pytest.skip("no formula")
    told = prices(found, Budget())
    assert told.unasked == ()
    for study, row in _written(draft, told):
        closest = fit(study).judged.closeness
        assert row.value < found.judged.closeness.value
        assert closest.value <= row.value * (1 + SAME)
        assert not row.proven or closest.value >= row.value * (1 - SAME)
    for step in told.shorter:
        assert len(found.judged.lines) > step.limit
        closest = fit(_keyed(draft, "lines", step.limit)).judged.closeness
        assert closest.value <= step.found.value * (1 + SAME)
    _all_told(found, told)


def _written(draft: Draft, told: Prices) -> Iterator[tuple[Study, Found]]:
    for price in told.limits:
        yield _moved(draft, price, price.end), price.without
        if price.step is not None:
            most = price.step.limit
            assert price.now < most or most < price.now
            yield _moved(draft, price, most), price.step.found


def _moved(draft: Draft, price: LimitPrice, limit: float | None) -> Study:
    kind, subject = price.kind, price.subject
    if kind in KEYS_OF:
        return _keyed(draft, kind, limit)
    if kind == "balance":
        changed = draft.copy()
        balance = changed.settings["balance"]
        for name in balance.keys() - {"tolerance"}:
            balance[name] = float(f"{balance[name] / 10:.12g}")
        assert balance["readability_g"] == limit
        return changed.study()
    study = draft.study()
    if kind == "on hand":
        key = next(bottle.key for bottle in study.settled.bottles if bottle.key.subject == subject)
        return with_bottle_cells(study, key, stock_g=limit)
    if kind == "restricted":
        return with_rule(study, LimitKey("restricted", subject), limit)
    amount = next(one for one in study.amounts if one.material == subject[0])
    ends = {"at_least_g": amount.least_g or None, "at_most_g": amount.most_g if amount.most_g < 1e9 else None}
    ends["at_least_g" if kind == "amount at least" else "at_most_g"] = limit or None
    return with_amount(study, subject[0], **ends)


def _keyed(draft: Draft, kind: str, limit: float | None) -> Study:
    changed = draft.copy()
    section, name = KEYS_OF[kind]
    changed.settings.setdefault(section, {}).pop(name, None)
    if limit is not None:
        share, whole = kind in {"undeclared", "dosage"}, kind in {"lines", "dilutions"}
        changed.settings[section][name] = f"{100 * limit:.12g} %" if share else int(limit) if whole else limit
    return changed.study()


def _all_told(found: Fit, told: Prices) -> None:
    """No limit goes untold of which it is known that a closer formula shows without it."""
    value = found.judged_before.closeness.value
    there = {(price.kind, price.subject) for price in told.limits}
    for key, gone in found.let_go.items():
        if gone.holds and gone.answer is not None and gone.answer.value < value * (1 - 5 * SAME) and value > 1e-6:
            assert tuple(key) in there, key
