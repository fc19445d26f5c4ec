"""What varies, as people see it. Two lots have ends, but no quantiles. All invented."""

from __future__ import annotations

from tests.tiny_study import GREEN, OIL, OIL_PARTS, RED, tiny

from reaccord.answer.fit import fit
from reaccord.domain.study import Study
from reaccord.questions.spread.spread import Spread, spread
from reaccord.report.spread import spread_data, spread_text

WIDE = 200
LOTS = [{"constituent": "red", "A": "50", "B": "70"}, {"constituent": "green", "A": "50", "B": "30"}]


def drawn(study: Study) -> Spread:
    return spread(study, fit(study).amounts, draws=400)


def test_two_lots_have_no_quantiles() -> None:
    found = drawn(tiny(rows=LOTS, target={"samples": ["A", "B"], "combine": "mean"}))
    text = spread_text(found, WIDE)
    assert found.lots == 2
    assert text.startswith("drawn: 0.0 % wrong, 0.0 % unnamed as stated; green moves most, -10.00 to +10.00 points.")
    heading = next(line for line in text.splitlines() if line.startswith("Off the target"))
    assert heading.split()[-2:] == ["least", "most"]
    assert "50 %" not in text
    assert "in the middle" not in text
    assert "q50" in spread_data(found)["residuals"][0], "the data stay as they were"


def test_what_varies_in_a_range_has_quantiles() -> None:
    found = drawn(tiny((OIL, RED, GREEN), compositions=OIL_PARTS, limits={"lines": 1}))
    text = spread_text(found, WIDE)
    if found.varied:
        assert " points in 90 % of the draws" in text.splitlines()[0]
        assert "in the middle" in text
    assert "every limit holds in every draw" in text.splitlines()[0]
