"""What `fit` prints, told of a closest formula that is known: the same as `fit` itself."""

from __future__ import annotations

from tests.studies import study

from reaccord.answer.fit import as_printed, fit
from reaccord.contract import Budget


def test_a_formula_with_dilutions_to_make_is_printed_as_fit_prints_it() -> None:
    asked = study(
        target="constituent,G1\ngeraniol,60\ncitronellol,39.6\nlinalool,0.3\nnerol,0.1",
        bottles="material,constituent,purity\nGer,geraniol,100\nCit,citronellol,100\nLin,linalool,100\nNer,nerol,100\n"
        "DPG,dipropylene glycol,100",
        settings={
            "dilutions": {"strengths": ["10 %"], "carrier": "dipropylene glycol"},
            "balance": {"readability_g": 0.001, "minimum_g": 0.1},
            "fit": {"shorten": "50 %"},
        },
    )
    printed, closest = fit(asked, Budget()), fit(asked, Budget(), shorten=False)
    assert any(stock.recipe is not None and closest.unrounded.get(stock.key) for stock in asked.stocks)
    again = as_printed(closest, Budget())
    assert again.amounts == printed.amounts
    assert again.judged_before.closeness.value == printed.judged_before.closeness.value
