"""A study of four hundred constituents: how much of a page it makes, and what is folded away there."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from benchmarks.large_study import large

from reaccord.answer.judge import Judgement, judge
from reaccord.answer.why.reasons import reasons
from reaccord.desk import view
from reaccord.desk.answering import Answered
from reaccord.desk.session import Session
from reaccord.domain.study import Study
from reaccord.report.off_target import part_of_deviation
from reaccord.report.result_page import Sections, Shown, off_rows, result_page

MOST = 3_000_000
"""Bytes."""


@pytest.fixture(scope="module")
def poured() -> tuple[Study, Judgement]:
    """A study of four hundred rows, and a formula of every bottle there is."""
    study = large(400, 240, 7).study()
    amounts = {stock.key: 0.05 for stock in study.stocks if stock.recipe is None}
    return study, judge(study, amounts)


def test_page_and_desk_stay_small(poured: tuple[Study, Judgement]) -> None:
    study, judged = poured
    why = reasons(study, judged)
    page = result_page(Shown(study, judged, "a verdict", "proven", why), Sections())
    assert page.count("<tr") > 400
    assert len(page.encode()) < MOST
    session = Session(study)
    amounts = {line.stock.key: line.grams for line in judged.lines}
    session.heard(Answered(session.setting.number, judged, amounts, "a verdict", "proven", why))
    desk = view.whole_page(session, "nonce", (), ())
    assert desk.count('class="handle') > 400
    assert len(desk.encode()) < MOST


def test_what_is_folded_counts_for_next_to_nothing(poured: tuple[Study, Judgement]) -> None:
    study, judged = poured
    shown = Shown(study, judged, "a verdict", "proven", {})
    rows = off_rows(shown)
    parts = sorted(part_of_deviation(judged.residuals, "squares").values(), reverse=True)
    open_rows = sum(not row["little"] for row in rows)
    assert 15 < open_rows < len(rows)
    assert sum(parts[open_rows:]) < 0.02 <= sum(parts[open_rows - 1 :])
    assert [row["little"] for row in rows] == sorted(row["little"] for row in rows)
    said = f"{len(rows) - open_rows} more rows count for less than 2 % together."
    assert said in re.sub(r"\s+", " ", result_page(shown, Sections()))
    few = replace(judged, residuals=judged.residuals[:10])
    assert not any(row["little"] for row in off_rows(replace(shown, judged=few)))
