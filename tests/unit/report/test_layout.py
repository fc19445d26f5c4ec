from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from reaccord.report.layout import (
    GAP,
    NARROWEST,
    Column,
    aligned,
    natural_width,
    on_the_point,
    paragraph,
    printable,
    wrapped,
)
from reaccord.report.quantities import decimals_of, signed

COLUMNS = (Column("Pour", wraps=True), Column("g", right=True), Column("lot", wraps=True))
ROWS = [("Geraniol", "1.250", "GE-12"), ("Garden geranium lot 2024 oil", "12.000", "")]


def test_columns_stand_below_their_headings() -> None:
    assert aligned(COLUMNS, ROWS, 80).splitlines() == [
        "Pour                               g  lot",
        "Geraniol                       1.250  GE-12",
        "Garden geranium lot 2024 oil  12.000",
    ]
    assert natural_width(COLUMNS, ROWS) == 43


def test_text_gives_way_and_numbers_do_not() -> None:
    assert aligned(COLUMNS, ROWS, 36).splitlines() == [
        "Pour                        g  lot",
        "Geraniol                1.250  GE-12",
        "Garden geranium lot    12.000",
        "2024 oil",
    ]
    for width in (1, 10, 20):
        lines = aligned(COLUMNS, ROWS, width).splitlines()
        assert "  1.250  " in lines[1]
        assert lines[2].endswith("  12.000")


def test_notes_stand_beneath() -> None:
    lines = aligned(
        COLUMNS, ROWS, 44, beneath=["", "the last of it, and nobody else has any more of it now"]
    ).splitlines()
    assert lines[3:] == ["  the last of it, and nobody else has any", "  more of it now"]


def test_a_table_without_rows_is_its_head() -> None:
    assert aligned(COLUMNS, [], 80) == "Pour  g  lot"


def test_points_below_each_other() -> None:
    assert on_the_point(["140.00", "10", "0.0002", "7."]) == ["140.00  ", "10     ", "0.0002", "7.    "]
    assert on_the_point([]) == []
    numbers = [number.rjust(8) for number in on_the_point(["140.00", "0.0002", "1.5"])]
    assert {number.index(".") for number in numbers} == {3}


@pytest.mark.parametrize("name", ["天竺葵醇", "γ-Eudesmol", "Ge\u0301ranium", "🌿 leaf"])
def test_names_of_any_script_take_the_cells_they_take(name: str) -> None:
    """Cells of a terminal: Unicode Standard Annex 11 (East Asian width), as rich counts them."""
    lines = aligned(COLUMNS, [(name, "1.000", "a"), ("plain", "2.000", "b")], 80).splitlines()
    before = [line[: line.index(".")] for line in lines[1:]]
    assert cell_len(before[0]) == cell_len(before[1])


def test_control_characters_are_shown_as_something_else() -> None:
    assert printable("a\033[31mb\nc\td") == "a\ufffd[31mb\ufffdc\ufffdd"
    assert "\033" not in aligned(COLUMNS, [("\033[2J", "1", "x")], 80, beneath=["\033[0m"])
    assert "\033" not in paragraph("\033[2J", 80)


def test_a_paragraph_breaks_between_words_only() -> None:
    assert paragraph("held by 10-epi-gamma-eudesmol", 20) == "held by\n10-epi-gamma-eudesmol"
    assert paragraph("Rules      one two three", 18, " " * 11) == "Rules      one two\n" + " " * 11 + "three"


@given(
    st.lists(
        st.tuples(st.text(st.characters(codec="utf-8"), max_size=40), st.integers(0, 10**9).map(str)),
        min_size=1,
        max_size=6,
    ),
    st.integers(-5, 90),
)
def test_nothing_is_lost_at_any_width(rows: list[tuple[str, str]], width: int) -> None:
    columns = (Column("name", wraps=True), Column("number", right=True))
    text = aligned(columns, rows, width)
    for name, number in rows:
        assert number in text
        for sign in printable(name).replace("\ufffd", "").split():
            assert all(part in text for part in sign)
    room = NARROWEST + len(GAP) + max(cell_len("number"), *(len(number) for _, number in rows))
    if width >= room:
        assert max(cell_len(line) for line in text.splitlines()) <= width


def test_wrapped_keeps_a_word_that_fits() -> None:
    assert wrapped("one two", 7) == ["one two"]
    assert wrapped("one two", 4) == ["one", "two"]
    assert wrapped("abcdef", 4) == ["abcd", "ef"]


def test_a_number_that_rounds_to_nothing_has_no_sign() -> None:
    assert [signed(value, 2) for value in (0.123, -0.126, -0.001, 0.0)] == ["+0.12", "-0.13", "0.00", "0.00"]


def test_decimals_follow_the_balance() -> None:
    assert [decimals_of(step) for step in (0.001, 0.0002, 0.5, 1.0, 0.0)] == [3, 4, 1, 0, 4]
