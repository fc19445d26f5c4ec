"""The sheet for the bench as plain data, text and CSV."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.report.csv_table import Columns, csv_text, strength_cell
from reaccord.report.data import about, grounds, limit_rows
from reaccord.report.layout import Column, aligned, counted, headed, on_the_point, paragraph, paragraphs
from reaccord.report.quantities import NO_BALANCE, decimals_of, percent, rough_percent, trimmed
from reaccord.report.verdict import standing

if TYPE_CHECKING:
    from reaccord.balance.dilution import Making
    from reaccord.balance.equal_strength import Vial
    from reaccord.balance.sheet import Sheet, SheetLine
    from reaccord.balance.smallest_batch import SmallestBatch

SHEET: Columns = {
    "order": str,
    "material": str,
    "strength": strength_cell,
    **dict.fromkeys(("carrier", "lot", "grams"), str),
    "running_g": "{:.9g}".format,
    "parts_per_thousand": "{:.6g}".format,
    **dict.fromkeys(("tolerance_g", "poured_g"), str),
}
"""A formula that reads back, with a column for what is poured: `correct` reads that."""
MOVES = 5e-5
"""A line that moves the deviation by less than 0.005 % at its tolerance is not worth a word."""


def weigh_data(found: Sheet, vials: Sequence[Vial]) -> dict[str, Any]:
    """Return the sheet as plain data."""
    return {
        **about(found.study),
        "accord_g": found.judged.totals.accord_g,
        "total_g": found.judged.totals.total_g,
        "deviation": found.judged.closeness.value,
        "stocks": stock_rows(found.stocks),
        "lines": [line_row(line) for line in found.lines],
        "smallest_accord_g": {"neat": found.neat.accord_g, "diluted": found.diluted.accord_g},
        "equal_strength": [vars(vial).copy() for vial in vials],
        "limits": limit_rows(found.judged),
        **grounds(found.study),
    }


def stock_rows(stocks: Iterable[Making]) -> list[dict[str, Any]]:
    """Return the dilutions to make, in their order."""
    return [
        {
            "material": made.key.material,
            "strength": made.key.strength,
            "carrier": made.key.carrier,
            "source": made.source._asdict(),
            "carrier_lot": made.carrier.lot,
            "made_g": made.made_g,
            "material_g": made.material_g,
            "carrier_g": made.carrier_g,
            "poured_g": made.poured_g,
            "left_g": made.left_g,
            "reached": made.reached,
            "error": made.error,
        }
        for made in stocks
    ]


def line_row(line: SheetLine) -> dict[str, Any]:
    """Return one line; `off` is what it does to the deviation where it is off by its tolerance."""
    return {
        "order": line.order,
        **line.stock.key._asdict(),
        "grams": line.grams,
        "running_g": line.running_g,
        "parts_per_thousand": line.parts_per_thousand,
        "tolerance_g": line.tolerance_g,
        "off": None if line.off is None else vars(line.off).copy(),
        "solid": line.stock.solid,
        "to_make": line.stock.recipe is not None,
    }


def weigh_csv(found: Sheet) -> str:
    """Write the lines as a formula with a blank for what is poured."""
    return csv_text(SHEET, (line_row(line) | {"poured_g": None} for line in found.lines))


def weigh_text(found: Sheet, vials: Sequence[Vial], width: int) -> str:
    """Return the sheet for people: what to make, what to weigh in which order, how small it can be."""
    parts = [
        headed(found.study.title, verdict(found), width),
        stocks_text(found.study, found.stocks, width),
        _lines(found, width),
        paragraphs(smallest(found), width),
        vials_text(found, vials, width),
    ]
    return "\n\n".join(filter(None, parts)) + "\n"


def verdict(found: Sheet) -> str:
    """Return what the sheet is of, in a sentence."""
    totals, first = found.judged.totals, len(found.stocks)
    make = f"; make {counted(first, 'dilution')} first" if first else ""
    broken = found.judged.broken
    limits = f" It breaks {counted(len(broken), 'limit')}: {', '.join(s.label for s in broken)}." if broken else ""
    lines = f"{counted(len(found.lines), 'line')}, {totals.total_g:.6g} g"
    return f"{lines} for {totals.accord_g:.4g} g of accord ({standing(found.judged)}){make}.{limits}"


def stock_name(key: StockKey) -> str:
    """Return what is poured, without its lot."""
    return key.material if key.strength == 1 else f"{key.material}, {key.strength * 100:.6g} % in {key.carrier}"


def stocks_text(study: Study, stocks: Sequence[Making], width: int) -> str:
    """Return how to make the dilutions, a line each."""
    if not stocks:
        return ""
    columns = (
        Column("Make first", wraps=True),
        *(Column(heading, right=True) for heading in ("material g", "carrier g", "off by", "left g")),
        Column("from", wraps=True),
    )
    rows = [
        (
            stock_name(made.key),
            grams_text(study, made.source, made.material_g),
            grams_text(study, made.carrier, made.carrier_g),
            off_by(made),
            grams_text(study, made.key, made.left_g),
            source_text(made),
        )
        for made in stocks
    ]
    return aligned(columns, rows, width)


def off_by(made: Making) -> str:
    """Return how far off the strength may be: one standard deviation, relative."""
    return "" if made.error is None else f"{rough_percent(made.error)}"


def source_text(made: Making) -> str:
    """Return which bottle a dilution is made from."""
    if made.source.lot == made.key.lot:
        return f"the {made.source.strength * 100:.6g} % made before"
    return f"lot {made.source.lot}" if made.source.lot else "the bottle"


def grams_text(study: Study, key: StockKey, grams: float) -> str:
    """Write grams in the decimals of the bottle's step."""
    balance = study.settings.balance
    stocks = study.every_stock
    stock = next((stock for stock in stocks if stock.key == key), None)
    step = stock.step_g if stock else balance.readability_g if balance else 0.0
    return f"{grams:.{decimals_of(step)}f}"


def _lines(found: Sheet, width: int) -> str:
    columns = (
        Column("", right=True),
        Column("Weigh", wraps=True),
        *(Column(heading, right=True) for heading in ("g", "display g", "‰", "± g", "moves")),
        Column("lot", wraps=True),
        Column("poured"),
    )
    return aligned(columns, [tuple(row.values()) for row in line_cells(found)], width)


def line_cells(found: Sheet) -> list[dict[str, str]]:
    """Return the cells of each line, as people read them; grams stand point below point."""
    decimals = max(decimals_of(line.stock.step_g) for line in found.lines)
    tolerances = ["" if line.tolerance_g is None else trimmed(f"{line.tolerance_g:.6f}") for line in found.lines]
    return [
        {
            "order": str(line.order),
            "material": stock_name(line.stock.key) + (" (solid)" if line.stock.solid else ""),
            "grams": f"{line.grams:.{decimals}f}",
            "running": f"{line.running_g:.{decimals}f}",
            "thousand": f"{line.parts_per_thousand:.2f}",
            "tolerance": tolerance,
            "off": _off(found, line),
            "lot": "to be made" if line.stock.recipe else line.stock.key.lot,
            "poured": "[ ] " + "_" * max(6, decimals + 3),
        }
        for line, tolerance in zip(found.lines, on_the_point(tolerances), strict=True)
    ]


def _off(found: Sheet, line: SheetLine) -> str:
    """Return by how much of itself the deviation grows if the line is off by its tolerance."""
    value = found.judged.closeness.value
    if line.off is None or value <= 0:
        return ""
    share = max(line.off.change, 0.0) / value
    return "-" if share < MOVES else f"{share * 100:.2f} %"


def smallest(found: Sheet) -> list[str]:
    """Say how small the batch may be, and of which lines nothing may be poured too much."""
    if found.neat.accord_g <= 0 and found.diluted.accord_g <= 0:
        return []
    return [
        *_rather_less(found),
        f"Smallest batch in which every line can be weighed: {_batch(found.diluted)} with the dilutions allowed, "
        f"{_batch(found.neat)} from the bottles themselves (gram of accord).",
        "Moves: how much farther off the whole is where that line alone is off by ±. The display is without tare.",
    ]


def _rather_less(found: Sheet) -> list[str]:
    """Name the lines whose ± takes a restricted substance over its limit."""
    of: dict[str, list[str]] = {}
    for line in found.lines:
        for label in line.off.breaks if line.off else ():
            of.setdefault(label, []).append(stock_name(line.stock.key))
    return [f"Rather less than more of {', '.join(lines)}: {label} is at its limit." for label, lines in of.items()]


def _batch(batch: SmallestBatch) -> str:
    return f"{batch.accord_g:.3g} g ({stock_name(batch.decided_by.key)} decides)"


def vials_text(found: Sheet, vials: Sequence[Vial], width: int) -> str:
    """Return what to weigh for vials of equal strength."""
    from reaccord.balance.equal_strength import solvent_of

    if not vials:
        return ""
    balance = found.study.settings.balance
    decimals = decimals_of(balance.readability_g) if balance else NO_BALANCE
    columns = (
        Column("Smell side by side", wraps=True),
        *(Column(heading, right=True) for heading in ("sample g", "solvent g", "strength")),
    )
    rows = [
        (vial.sample, f"{vial.sample_g:.{decimals}f}", f"{vial.solvent_g:.{decimals}f}", percent(vial.strength, 2))
        for vial in vials
    ]
    said = f"Solvent: {solvent_of(found.study)}. Equal strength: the carrier already inside is counted."
    return f"{aligned(columns, rows, width)}\n{paragraph(said, width)}"
