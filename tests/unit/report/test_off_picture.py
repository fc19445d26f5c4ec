"""Places on the scale of the page: roots, ends, ticks that do not crowd."""

from __future__ import annotations

import math

import pytest
from tests import studies

from reaccord.answer.judge import judge
from reaccord.report.off_picture import CLOSE, WIDTH, Scale


def test_places_follow_the_root_of_the_share() -> None:
    made = studies.study(target="constituent,low,high,G1\ngeraniol,,,60\ncitronellol,30,45,")
    judged = judge(made, {stock.key: 1.0 for stock in made.stocks})
    scale = Scale(judged.residuals)
    assert scale.place(scale.top) == WIDTH
    assert scale.place(0.0) == scale.place(-1.0) == 0.0
    assert scale.place(2.0) == WIDTH
    assert scale.place(scale.top / 4) == pytest.approx(WIDTH / 2, abs=0.1)
    for r in judged.residuals:
        drawn = scale.drawn(r)
        assert drawn.bar == pytest.approx(WIDTH * math.sqrt(min(r.achieved / scale.top, 1)), abs=0.1)
        assert (drawn.band is None) == (not r.row.band)


def test_numbers_of_ticks_do_not_crowd() -> None:
    made = studies.study(target="constituent,low,high,G1\ngeraniol,,,60\ncitronellol,30,45,")
    ticks = Scale(judge(made, {stock.key: 1.0 for stock in made.stocks}).residuals).ticks()
    numbered = [tick.place for tick in ticks if tick.label]
    assert numbered
    assert all(after - before >= CLOSE for before, after in zip([0.0, *numbered], numbered, strict=False))
