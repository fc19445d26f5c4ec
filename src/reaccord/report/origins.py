"""Two samples beside each other as plain data, CSV and text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reaccord.contract import gap_of
from reaccord.domain.stock import StockKey
from reaccord.questions.origins import Origins
from reaccord.report.csv_table import Columns, csv_text, strength_cell
from reaccord.report.data import about, grounds, printed_row
from reaccord.report.layout import Column, aligned, counted, headed, paragraphs
from reaccord.report.quantities import decimals_of_balance, percent, rough_percent
from reaccord.report.terminal import ended, rules
from reaccord.report.verdict import BARELY, FIGURES, beside_fit, measured

MOST_ROWS = 10


def origins_data(found: Origins) -> dict[str, Any]:
    """Return `origins`' data: grams of the base are of each accord, which holds it whole."""
    return {
        **about(found.study),
        "rows": [
            {"constituent": r.constituent, "first": r.first, "second": r.second, "difference": r.difference}
            for r in found.rows
        ],
        "base": _lines(found.base),
        "tails": [
            {
                "sample": accord.sample,
                "formula": _lines(accord.tail),
                "deviation": accord.judged.closeness.value,
                "misplaced_share": accord.judged.closeness.misplaced_share,
                "fit": printed_row(accord.printed),
                "alone": accord.alone.judged.closeness.value,
            }
            for accord in found.accords
        ],
        "lines": found.lines,
        "deviation": {"before_rounding": found.value, "bound": found.bound, "gap": gap_of(found.value, found.bound)},
        **grounds(found.study),
    }


def _lines(amounts: Mapping[StockKey, float]) -> list[dict[str, Any]]:
    return [{**key._asdict(), "grams": amounts[key]} for key in sorted(amounts)]


def origins_csv(found: Origins) -> str:
    """Return base and tails as one table."""
    data = origins_data(found)
    parts = [("base", data["base"]), *((tail["sample"], tail["formula"]) for tail in data["tails"])]
    columns: Columns = {
        "part": str, "material": str, "strength": strength_cell, "carrier": str, "lot": str, "grams": str
    }  # fmt: skip
    return csv_text(columns, [{"part": part, **line} for part, lines in parts for line in lines])


def origins_text(found: Origins, width: int) -> str:
    """Return the answer of `origins` for people: the verdict, what tells the samples apart, base and tails."""
    parts = [
        headed(found.study.title, _verdict(found), width),
        _apart(found, width),
        _pour(found, width),
        paragraphs([_how(found), *_beside_fit(found)], width),
        *rules(found.study, width),
    ]
    return ended(parts, _proof(found), width)


def _verdict(found: Origins) -> str:
    each = ", ".join(
        f"{accord.sample} {percent(accord.judged.closeness.misplaced_share, 1)} wrong "
        f"({percent(accord.alone.judged.closeness.misplaced_share, 1)} by itself)"
        for accord in found.accords
    )
    gap = gap_of(found.value, found.bound)
    closer = "nothing closer" if gap <= BARELY else f"nothing more than {rough_percent(gap)} closer"
    sure = closer if found.status == "proven" else f"closest so far, {closer}"
    return f"one base for both, {each}; {sure} has so few lines."


def _apart(found: Origins, width: int) -> str:
    one, other = (accord.sample for accord in found.accords)
    columns = (
        Column("What tells them apart", wraps=True),
        Column(f"{one} %", right=True),
        Column(f"{other} %", right=True),
        Column("points", right=True),
    )
    differ = [row for row in found.rows if abs(row.difference) >= 5e-5]
    rows = [
        (r.constituent, _share(r.first), _share(r.second), f"{100 * r.difference:+.2f}") for r in differ[:MOST_ROWS]
    ]
    if not rows:
        return "Nothing tells them apart."
    left = len(differ) - len(rows)
    more = f"\n{counted(left, 'more row')} differ less." if left else ""
    return aligned(columns, rows, width) + more


def _share(share: float | None) -> str:
    return "none" if share is None else f"{100 * share:.2f}"


def _pour(found: Origins, width: int) -> str:
    decimals = decimals_of_balance(found.study)
    columns = (
        Column("Pour", wraps=True),
        Column("base g", right=True),
        *(Column(f"{accord.sample} g", right=True) for accord in found.accords),
        Column("lot", wraps=True),
    )
    parts = [found.base, *(accord.tail for accord in found.accords)]
    keys = sorted(set().union(*parts))
    rows = [
        (_label(key), *(f"{part[key]:.{decimals}f}" if key in part else "" for part in parts), key.lot) for key in keys
    ]
    total = [f"{sum(part.values()):.{decimals}f}" for part in parts]
    rows.append((counted(sum(map(len, parts)), "line"), *total, ""))
    return aligned(columns, rows, width)


def _label(key: StockKey) -> str:
    return key.material if key.strength == 1 else f"{key.material}, {key.strength * 100:.6g} % in {key.carrier}"


def _how(found: Origins) -> str:
    weight = sum(found.base.values())
    decimals = decimals_of_balance(found.study)
    return f"Each accord is {weight:.{decimals}f} g of the base and its tail; make the base once, for both."


def _beside_fit(found: Origins) -> list[str]:
    return [
        line
        for accord in found.accords
        for line in beside_fit(accord.printed, accord.alone.judged, f" of {accord.sample} by itself")
    ]


def _proof(found: Origins) -> str:
    together = "the worse of both" if found.study.settings.fit.measure == "worst" else "both added up"
    values = " and ".join(f"{accord.judged.closeness.value:.{FIGURES}g}" for accord in found.accords)
    proven = " (proven)" if found.status == "proven" else ""
    least = f"{found.value:.{FIGURES}g}, at best {found.bound:.{FIGURES}g}{proven}"
    return f"{measured(found.study)} {values}; {together}, before rounding, {least}."
