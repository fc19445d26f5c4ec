"""Numbers as people and tables read them: shares in percent, quantities in the digits of their unit."""

from __future__ import annotations

import math

from reaccord.domain.study import Study

UNITS = {"g": "g", "share": "%", "per kg": "per kg", "lines": "", "ratio": "of 1"}
"""What stands behind a limit of each unit; a share is shown in percent."""
DECIMALS = {"lines": 0, "g": 3, "ratio": 3}
MOST_DECIMALS = 9
NO_BALANCE = 4
"""Decimals of grams that are not rounded to a balance."""


def percent(share: float, decimals: int) -> str:
    """Write a share with so many decimals of a percent."""
    return f"{share * 100:.{decimals}f} %"


def rough_percent(share: float) -> str:
    """Write a small share in two digits."""
    return f"{float(f'{share * 100:.2g}'):g} %"


def exact_percent(share: float) -> str:
    """Write every digit that tells a share from its neighbours: it reads back as it was."""
    return f"{float(f'{share * 100:.15g}')!r} %".replace(".0 %", " %")


def row_percent(share: float) -> str:
    """Write the share of a row with its sign of percent."""
    return f"{row_figures(share)} %"


def row_figures(share: float) -> str:
    """Write the share of a row in percent: two decimals, four where it is below 0.01 %."""
    return f"{share * 100:.{2 if share >= 0.0001 or share == 0 else 4}f}"


def six_figures(value: float) -> float:
    """Return a number in six significant figures."""
    return float(f"{value:.6g}")


def signed(value: float, decimals: int) -> str:
    """Write a number with its sign; what rounds to nothing has none."""
    text = f"{value:+.{decimals}f}"
    return text if float(text) != 0 else text[1:]


def decimals_for(value: float, figures: int) -> int:
    """Return the decimals that show a number, not zero, in so many figures."""
    return min(max(figures - 1 - math.floor(math.log10(abs(value))), 0), MOST_DECIMALS)


def in_unit(value: float, unit: str, decimals: int | None = None) -> str:
    """Write a quantity in the digits of its unit, without the unit; a share in percent, in three figures if none."""
    if unit != "share":
        return f"{value:.{DECIMALS.get(unit, 2)}f}"
    if decimals is None:
        return trimmed(f"{value * 100:.{decimals_for(value * 100, 3)}f}") if value else "0"
    return f"{value * 100:.{decimals}f}"


def told_apart(value: float, other: float, unit: str) -> str:
    """Write a quantity; where it looks as the other one, in as many digits as tell the two apart."""
    shown = in_unit(value, unit)
    if shown != in_unit(other, unit):
        return shown
    return trimmed(f"{value * (100 if unit == 'share' else 1):.{MOST_DECIMALS}f}")


def in_full(value: float, unit: str) -> str:
    """Write a quantity in nine figures, with its unit if that is a share, grams or money."""
    if unit == "share":
        return f"{value * 100:.9g} %"
    return f"{value:.9g}" + {"g": " g", "per kg": " per kg"}.get(unit, "")


def trimmed(text: str) -> str:
    """Leave out the zeros at the end of a decimal number."""
    return text.rstrip("0").rstrip(".") if "." in text else text


def decimals_of(step: float) -> int:
    """Return how many decimals a balance that reads so finely shows; 4 for none (0)."""
    return len(f"{step:.9f}".rstrip("0").partition(".")[2]) if step > 0 else NO_BALANCE


def decimals_of_balance(study: Study) -> int:
    """Return how many decimals the grams of a study have."""
    balance = study.settings.balance
    return decimals_of(balance.readability_g if balance else 0.0)
