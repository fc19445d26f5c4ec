"""What `fit` prints, told of a closest formula that is known: the same as `fit` itself."""

from __future__ import annotations

from pathlib import Path

from reaccord.answer.fit import as_printed, fit
from reaccord.contract import Budget
from reaccord.study.load import load_study

EXAMPLE = Path(__file__).resolve().parents[3] / "examples" / "geranium" / "study.toml"


def test_a_formula_with_dilutions_to_make_is_printed_as_fit_prints_it() -> None:
    """Amounts of what can be weighed alone, without the dilutions made for them, break limits and seem nearer."""
    asked = load_study(EXAMPLE)
    printed, closest = fit(asked, Budget()), fit(asked, Budget(), shorten=False)
    made = [stock.key for stock in asked.stocks if stock.recipe is not None and closest.unrounded.get(stock.key)]
    assert made
    again = as_printed(closest, Budget())
    assert again.amounts == printed.amounts
    assert again.judged_before.closeness.value == printed.judged_before.closeness.value
