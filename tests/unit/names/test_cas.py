"""CAS numbers: spelling and check digit."""

from __future__ import annotations

import pytest

from reaccord.names.cas import check_digit_ok, looks_like_cas, normalise_cas


# 107-07-3 is the worked example on CAS's page "Check Digit Verification of CAS Registry Numbers"
# (33 = 3 x 10 + 3); 71-23-8 that of its client services (1-propanol: 38). Water by the same rule:
# 8x1 + 1x2 + 2x3 + 3x4 + 7x5 + 7x6 = 105. Ten digits: 1637294-12-2.
@pytest.mark.parametrize("number", ["107-07-3", "71-23-8", "7732-18-5", "106-24-1", "1637294-12-2"])
def test_published_numbers_pass(number: str) -> None:
    assert check_digit_ok(number)


@pytest.mark.parametrize("wrong", [d for d in range(10) if d != 3])
def test_every_other_check_digit_fails(wrong: int) -> None:
    assert not check_digit_ok(f"107-07-{wrong}")


def test_swapped_neighbours_fail() -> None:
    assert check_digit_ok("7732-18-5")
    assert not check_digit_ok("7723-18-5")


@pytest.mark.parametrize("text", ["", "geraniol", "1-1-1", "00-00-0", "106241", "106-24-1-1", "12345678-12-1"])
def test_other_texts_are_no_numbers(text: str) -> None:
    assert not check_digit_ok(text)
    assert not looks_like_cas(text)


@pytest.mark.parametrize(
    "written", ["106-24-1", " 106 - 24 - 1 ", "106–24–1", "106−24−1", "CAS 106-24-1", "CAS No.: 000106-24-1"]
)
def test_one_spelling(written: str) -> None:
    assert normalise_cas(written) == "106-24-1"
    assert check_digit_ok(written)


def test_what_is_no_number_stays() -> None:
    assert normalise_cas(" β-pinene ") == "β-pinene"
