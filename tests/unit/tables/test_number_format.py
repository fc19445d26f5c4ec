"""Number formats of spreadsheets: what they make of a number."""

from __future__ import annotations

import pytest

from reaccord.tables.number_format import Unclear, shown

ACCOUNTS = '_-* #,##0.00_-;-* #,##0.00_-;_-* "-"??_-;_-@_-'


@pytest.mark.parametrize(
    ("value", "code", "text"),
    [
        (12.5, "General", "12.5"),
        (12.5, "", "12.5"),
        (12.5, "@", "12.5"),
        (1234.5, "#,##0.00", "1234.5"),
        (1.5, "# ?/?", "1.5"),
        (1.5, "# ?/8", "1.5"),
        (1e-05, "0.00E+00", "0.00001"),
        (-3, "0.0;[Red]0.0", "-3"),
        (3, "0.0_);(0.0)", "3"),
        (12, ACCOUNTS, "12"),
        (-12, ACCOUNTS, "-12"),
        (0, ACCOUNTS, "0"),
    ],
)
def test_plain_formats(value: float, code: str, text: str) -> None:
    assert shown(value, code, "G1") == text


@pytest.mark.parametrize(
    ("value", "code", "text"),
    [
        (0.125, "0.0%", "12.5 %"),
        (0.125, "0 %", "12.5 %"),
        (40, r"0.00\%", "40 %"),
        (40, '0.0" %"', "40 %"),
        (40, '0.0 "ppm"', "40 ppm"),
        (40, r"0.0\ \p\p\m", "40 ppm"),
        (40, 'General" ppm"', "40 ppm"),
        (4, '0.0"‰"', "4 ‰"),
        (4, "0.0‰", "4 ‰"),
        (0.01, '[<0.05]"tr";0.00', "tr"),
        (0.5, '[<0.05]"tr";0.00', "0.5"),
        (0.00004, '[<0.0001]0.0 "ppm";0.0%', "0.00004 ppm"),
        (0, '0.0;-0.0;"nd"', "nd"),
    ],
)
def test_what_a_format_says_is_read(value: float, code: str, text: str) -> None:
    assert shown(value, code, "G1") == text


@pytest.mark.parametrize(
    ("value", "code", "reason"),
    [
        (40, '0.0 "mg/kg"', 'shows "mg/kg" beside the number'),
        (40, '0.0% "m/m"', 'shows "% m/m" beside the number'),
        (40, '0.0 "g"', 'shows "g" beside the number'),
        (40, '0.00 "€"', 'shows "€" beside the number'),
        (40, '"<"0.0', 'shows "<" beside the number'),
        (40, "-0.0", "shows a minus sign before a number that has none"),
        (0.4, "0%%", "shows several percent signs"),
        (1234, "0.0,", "shows thousands as one"),
        (106241, "000-00-0", 'puts "-" between its digits'),
        (40, ";;;", "hides the number 40"),
        (0, "0.0;;", "hides the number 0"),
        (40, "[<1]0.0;[<2]0.00", "has no section for 40"),
    ],
)
def test_what_is_not_read_says_why(value: float, code: str, reason: str) -> None:
    with pytest.raises(Unclear) as caught:
        shown(value, code, "G1")
    assert str(caught.value) == reason


@pytest.mark.parametrize(
    ("code", "heading"),
    [
        ('0.000 "g"', "stock_g"),
        ('0.000" g"', "grams"),
        ('0.000 "g"', "Weight (g)"),
        ('0.00 "€"', "price_per_kg"),
        ("[$€-407] #,##0.00", "price_per_kg"),
        (r"#,##0.00\ [$€/kg-407]", "price_per_kg"),
        ('"$"#,##0.00', "Price per kg"),
        ('0.00 "EUR"', "price_per_kg"),
        ('0.00 "EUR per kg"', "price_per_kg"),
    ],
)
def test_units_that_the_heading_names_too(code: str, heading: str) -> None:
    assert shown(2.5, code, heading) == "2.5"


@pytest.mark.parametrize(
    ("code", "heading"), [('0.0 "kg"', "stock_g"), ('0.00 "€/g"', "price_per_kg"), ('0.00 "€"', "stock_g")]
)
def test_units_that_contradict_the_heading(code: str, heading: str) -> None:
    with pytest.raises(Unclear):
        shown(2.5, code, heading)


@pytest.mark.parametrize(
    ("value", "code", "text"),
    [(7, "000000", "000007"), (7.0, "00", "07"), (1234567, "0000", "1234567"), (0, "000", "000"), (7.4, "000", "7.4"),
     (-7, "000", "-7"), (7, "0", "7"), (7, "#000", "7"), (7, "0.00", "7")],
)  # fmt: skip
def test_zeros_before_a_whole_number_are_shown(value: float, code: str, text: str) -> None:
    assert shown(value, code, "lot") == text
