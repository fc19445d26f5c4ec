"""What a study and an answer show of themselves in a notebook. All figures invented."""

from __future__ import annotations

import re
import sys

import pytest
from tests import studies
from tests.tiny_study import GREEN, RED, tiny

import reaccord
from reaccord.report.quantities import percent


def test_a_study_shows_what_it_wants_and_what_it_lacks() -> None:
    made = studies.study(target="constituent,G1\ngeraniol,60\ncitronellol,30\nlinalool,10")
    html = made._repr_html_()
    assert "3 rows of a target, 2 stocks to pour from." in html
    assert re.search(r"geraniol</th><td[^>]*>60.00 %", html)
    assert "No bottle holds linalool." in html
    assert "What to pour" not in html


def test_an_answer_shows_the_figures_of_its_judge() -> None:
    found = reaccord.fit(tiny([RED, GREEN], balance={"readability_g": 0.01, "minimum_g": 0.02}))
    html = found._repr_html_()
    assert html == reaccord.as_html(found)
    assert f"{percent(found.judged.closeness.misplaced_share, 1)} wrong" in html
    for line in found.judged.lines:
        assert re.search(rf"{line.stock.key.material}</td><td[^>]*><b>{line.grams:.2f}</b>", html)
    assert '<span class="word">proven</span>' in html


def test_a_bottle_past_its_date_that_is_poured_is_marked() -> None:
    old = GREEN | {"opened": "2020-01-01", "keeps_months": "12"}
    html = reaccord.fit(tiny([RED, old]))._repr_html_()
    assert "Green, past its date</td>" in html
    assert "Red, past its date" not in html


def test_names_are_text_and_the_style_stays_inside() -> None:
    made = studies.study(settings={"title": "<script>alert(1)</script>"})
    html = made._repr_html_() + reaccord.fit(made)._repr_html_()
    assert "&lt;script&gt;alert(1)" in html
    assert "<script" not in html
    assert not re.search(r"https?:|@import|url\(|<link|<img", html)
    for style in re.findall(r"<style>(.*?)</style>", html, re.DOTALL):
        rules = [rule for rule in style.splitlines() if rule]
        assert all(part.strip().startswith(".reaccord") for rule in rules for part in rule.partition("{")[0].split(","))


def test_as_plain_text_they_are_one_line() -> None:
    made = tiny([RED, GREEN])
    assert re.fullmatch(r"<Study 'drawn': \d rows, 2 stocks>", repr(made))
    assert re.fullmatch(r"<Fit of <Study .*>: 2 lines, 0.0% wrong, proven>", repr(reaccord.fit(made)))


def test_nothing_that_draws_is_loaded_before_somebody_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    made = tiny([RED, GREEN])
    monkeypatch.delitem(sys.modules, "reaccord.report.notebook", raising=False)
    monkeypatch.delattr(reaccord, "as_html", raising=False)
    reaccord.fit(made)
    assert "reaccord.report.notebook" not in sys.modules
    assert made._repr_html_()
    assert "reaccord.report.notebook" in sys.modules
