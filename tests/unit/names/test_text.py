"""What a person sees of a text, and footnote marks at names."""

from __future__ import annotations

import pytest

from reaccord.names.text import invisible, mixed_letters, one_line, shortened, without_marks, without_number


def test_a_long_text_is_not_repeated_whole() -> None:
    assert shortened("x" * 40) == "x" * 40
    assert shortened("x" * 41) == "x" * 37 + "..."


def test_one_line() -> None:
    assert one_line(" Rose\n  oil\t") == "Rose oil"


@pytest.mark.parametrize(
    ("text", "what", "rest"),
    [
        ("Ro\u202ese", "U+202E (right-to-left override)", "Rose"),
        ("Rose\u200b", "U+200B (zero width space)", "Rose"),
        ("\ufeffRose", "U+FEFF (zero width no-break space)", "Rose"),
        ("gera\u00adniol", "U+00AD (soft hyphen)", "geraniol"),
        ("\x1b[31mRose", "U+001B (control character)", "[31mRose"),
        ("\uf061-pinene", "U+F061 (private character)", "-pinene"),
    ],
)
def test_characters_nobody_sees(text: str, what: str, rest: str) -> None:
    assert invisible(text) == (what, rest)


@pytest.mark.parametrize("text", ["Néroli", "β-pinene", "Rose\noil", "ロ ーズ", "a\u00a0b", "🌹"])
def test_what_is_seen(text: str) -> None:
    assert invisible(text) is None


def test_two_alphabets_in_one_name() -> None:
    assert mixed_letters("ger\u0430niol") == "U+0430 (cyrillic small letter a)"
    assert mixed_letters("α-pinene") == mixed_letters("Роза") == ""


@pytest.mark.parametrize(
    ("text", "name", "mark"),
    [
        ("Linalool*", "Linalool", "*"),
        ("linalool †", "linalool", "†"),
        ("linalool**†", "linalool", "**†"),
        ("linalool^a", "linalool", "^a"),
        ("linalool^a,b", "linalool", "^a,b"),
        ("linaloolᵃ", "linalool", "ᵃ"),
        ("linalool²", "linalool", "²"),
        ("* linalool", "linalool", "*"),
        ("2-menthene-Δ³", "2-menthene-Δ³", ""),
        ("germacrene D", "germacrene D", ""),
        ("*", "*", ""),
    ],
)
def test_footnote_marks(text: str, name: str, mark: str) -> None:
    assert without_marks(text) == (name, mark)


@pytest.mark.parametrize(
    ("text", "name", "mark"),
    [
        ("Linalool (1)", "Linalool", "(1)"),
        ("linalool [3]", "linalool", "[3]"),
        ("linalool[2,4]", "linalool", "[2,4]"),
        ("linalool (b)", "linalool", "(b)"),
        ("linalool (R)", "linalool (R)", ""),
        ("benzo[a]pyrene", "benzo[a]pyrene", ""),
        ("1,8-cineole (470)", "1,8-cineole (470)", ""),
    ],
)
def test_footnote_numbers(text: str, name: str, mark: str) -> None:
    assert without_number(text) == (name, mark)
