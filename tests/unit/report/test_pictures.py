"""Pictures: what they say, that their labels do not meet, that a name is never markup. All figures invented."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET

import pytest
from tests import studies
from tests.tiny_study import GREEN, OIL, OIL_PARTS, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.judge import Judgement, judge
from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.questions.spread.spread import spread
from reaccord.report.pictures import LONGEST, cut
from reaccord.report.residual_picture import MARKS, need_marks, residual_picture
from reaccord.report.spread_picture import spread_picture

pytest.importorskip("matplotlib", reason="needs matplotlib: pip install 'reaccord[plots]'")

TEXT = "{http://www.w3.org/2000/svg}text"
PLACE = re.compile(r"translate\(([\d.]+) ([\d.]+)\)|rotate\(-0 ([\d.]+) ([\d.]+)\)")


def many_rows(number: int) -> tuple[Study, Judgement]:
    """A target of so many constituents, each with a bottle of its own, all poured alike."""
    names = [f"constituent {place} of the target" for place in range(number)]
    share = 98 / sum(range(1, number + 1))
    target = "constituent,G1\n" + "\n".join(f"{name},{share * n:.6f}" for n, name in enumerate(names, start=1))
    bottles = "material,constituent,purity\n" + "\n".join(f"{name} bottle,{name},99" for name in names)
    made = studies.study(target=target, bottles=bottles)
    return made, judge(made, {stock.key: 1.0 for stock in made.stocks})


def places(picture: bytes) -> dict[str, tuple[float, float]]:
    """Return where each text stands: across and down, in points."""
    found = {}
    for text in ET.fromstring(picture).iter(TEXT):
        at = PLACE.search(text.get("transform", ""))
        across, down = (text.get("x"), text.get("y")) if at is None else (at[1] or at[3], at[2] or at[4])
        found["".join(text.itertext()).strip()] = (float(across or 0), float(down or 0))
    return found


@pytest.mark.parametrize("number", [15, 80])
def test_no_two_labels_of_rows_meet(number: int) -> None:
    made, judged = many_rows(number)
    drawn = places(residual_picture(made, {"": judged}, "as given", ".svg"))
    rows = sorted(down for name, (_, down) in drawn.items() if name.startswith("constituent "))
    assert len(rows) == number
    assert all(after - before > 12 for before, after in itertools.pairwise(rows)), "9 pt stand on 12"
    assert {"wanted %", "got %", "points", "wanted", "in the batch"} <= drawn.keys()
    assert "% of the accord, on a square-root scale" in drawn


def test_more_rows_than_anybody_reads_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reaccord.report.residual_picture.MOST_ROWS", 3)
    made, judged = many_rows(9)
    words = " ".join(ET.fromstring(residual_picture(made, {"": judged}, "as given", ".svg")).itertext())
    assert " more rows count for " in words


def test_formulas_beside_each_other_have_a_mark_each() -> None:
    made, judged = many_rows(3)
    drawn = places(residual_picture(made, {"one <b>": judged, "other": judged}, "both", ".svg"))
    assert {"one <b>", "other", "wanted"} <= drawn.keys()
    assert "points" not in drawn
    with pytest.raises(UsageError, match="at most 6 formulas"):
        need_marks(len(MARKS) + 1)


def test_a_band_is_a_bracket_and_a_name_is_text() -> None:
    made = studies.study(
        target="constituent,G1,low,high\ngeraniol,60,,\ncitronellol,,30,45",
        settings={"title": "<script>alert(1)</script> $x^{"},
    )
    judged = judge(made, {stock.key: 1.0 for stock in made.stocks})
    drawn = residual_picture(made, {"": judged}, "a & b", ".svg")
    words = places(drawn)
    assert {"<script>alert(1)</script> $x^{", "a & b", "a range in which all is well"} <= words.keys()
    assert any(" to " in word for word in words), "the ends of the band as numbers"
    assert b"<script" not in drawn


def test_the_same_picture_twice_and_every_form() -> None:
    made, judged = many_rows(2)
    one, other = (residual_picture(made, {"": judged}, "as given", ".svg") for _ in range(2))
    assert one == other
    for ending, begins in ((".png", b"\x89PNG"), (".pdf", b"%PDF")):
        assert residual_picture(made, {"": judged}, "as given", ending).startswith(begins)


def test_what_moves_is_drawn_with_its_quantiles() -> None:
    made = tiny((OIL, RED, GREEN), compositions=OIL_PARTS, limits={"lines": 1})
    words = places(spread_picture(spread(made, fit(made).amounts, draws=400), ".svg"))
    assert {"0", "as stated", "off the target, points of the accord, on a square-root scale"} <= words.keys()


def test_two_lots_have_ends_and_no_middle() -> None:
    lots = [{"constituent": "red", "A": "50", "B": "70"}, {"constituent": "green", "A": "50", "B": "30"}]
    made = tiny(rows=lots, target={"samples": ["A", "B"], "combine": "mean"})
    words = places(spread_picture(spread(made, fit(made).amounts, draws=400), ".svg"))
    assert {"least", "most", "between the two lots", "+10.00", "-10.00"} <= words.keys()
    assert not {"in the middle", "50 %"} & words.keys()


def test_a_long_name_is_cut() -> None:
    assert cut("x" * (LONGEST + 1)) == "x" * (LONGEST - 1) + "…"
    assert cut("x" * LONGEST) == "x" * LONGEST
