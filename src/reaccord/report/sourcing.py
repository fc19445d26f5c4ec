"""What to buy next as plain data, CSV and text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reaccord.questions.sourced import Poured, Ranked, Sourcing
from reaccord.report.csv_table import Columns, csv_text
from reaccord.report.data import about, grounds, printed_row
from reaccord.report.layout import Column, aligned, counted, headed, paragraphs
from reaccord.report.quantities import exact_percent, percent, rough_percent
from reaccord.report.terminal import ended, rules
from reaccord.report.verdict import BARELY, FIGURES, beside_fit, measured

SPENT = 10
"""Of money: what a gain is set against."""
ORDINALS = ("first", "second", "third", "fourth", "fifth")
MOST_ALIKE = 3
"""Others that help as much are named up to so many."""


def sourcing_data(found: Sourcing) -> dict[str, Any]:
    """Return `sourcing`'s data: every offer, best first, and the best of them together."""
    return {
        **about(found.offered.shelf),
        "value": None if found.now is None else found.now.judged.closeness.value,
        "misplaced_share": None if found.now is None else found.now.judged.closeness.misplaced_share,
        "fit": printed_row(found.printed),
        "candidates": [_candidate(found, one) for one in found.ranked],
        "set_aside": [{"name": o.label, "reason": o.aside} for o in found.offered.offers if o.aside],
        "skipped": found.skipped,
        "most": found.most,
        "best": [
            {
                "count": one.count,
                "names": [offer.label for offer in one.offers],
                "value": one.poured.judged.closeness.value,
                "misplaced_share": one.poured.judged.closeness.misplaced_share,
                "before_rounding": one.poured.value,
                "bound": one.poured.bound,
                "status": one.poured.status,
            }
            for one in found.best
        ],
        **grounds(found.offered.shelf),
    }


def sourcing_csv(found: Sourcing) -> str:
    """Return the offers as CSV."""
    columns: Columns = {
        "name": str,
        **dict.fromkeys(("value_with", "gain", "bound", "pack_g", "price", "gain_per_money"), str),
        "misplaced_share": exact_percent,
        "skipped": lambda skipped: "yes" if skipped else "no",
    }
    return csv_text(columns, [_candidate(found, one) for one in found.ranked])


def _candidate(found: Sourcing, one: Ranked) -> dict[str, Any]:
    """Return an offer as a row; a gain per money is of the smallest pack."""
    gain, price = _gain(found.now, one.poured), one.offer.price
    judged = None if one.poured is None else one.poured.judged
    return {
        "name": one.offer.label,
        "material": one.offer.key.material,
        "value_with": None if judged is None else judged.closeness.value,
        "misplaced_share": None if judged is None else judged.closeness.misplaced_share,
        "before_rounding": None if one.poured is None else one.poured.value,
        "bound": one.bound,
        "gain": gain,
        "pack_g": one.offer.pack_g,
        "price": price,
        "gain_per_money": None if gain is None or not price else gain / price,
        "skipped": one.skipped,
    }


def _gain(now: Poured | None, poured: Poured | None) -> float | None:
    if now is None or poured is None:
        return None
    return now.judged.closeness.value - poured.judged.closeness.value


def sourcing_text(found: Sourcing, width: int) -> str:
    """Return the answer of `sourcing` for people: the verdict, what helps most, what helps most together."""
    study, now = found.offered.shelf, found.now
    listed = [one for one in found.ranked if one.poured is not None and helps(found, one)]
    said = ["nothing fits now" if now is None else f"{_wrong(now)} wrong now", _verdict(found, listed)]
    parts = [headed(study.title, "; ".join(said), width), _ranking(found, listed, width), _together(found, width)]
    last = "" if now is None else f"{measured(study)} {now.judged.closeness.value:.{FIGURES}g} now. "
    return ended(
        [*parts, paragraphs(_notes(found, listed), width), *rules(study, width)],
        f"{last}reaccord help answers",
        width,
    )


def helps(found: Sourcing, one: Ranked) -> bool:
    """Whether an offer makes a closer formula, before rounding and by more than what is proven."""
    return one.poured is not None and (found.now is None or one.poured.value < found.now.value * (1 - BARELY))


def _verdict(found: Sourcing, listed: Sequence[Ranked]) -> str:
    if not found.ranked:
        return "nothing is missing."
    if not listed:
        known = "" if found.status == "proven" else ", as far as it is known"
        alone = " by itself" if found.best else ""
        return f"no bottle that could be bought makes it closer{alone}{_by_more(found)}{known}."
    best = listed[0]
    assert best.poured is not None
    sure = "best so far"
    if best.poured.status == found.status == "proven":
        close = f"makes it more than {rough_percent(found.gap)} closer than that"
        sure = f"nothing else {'helps more' if found.gap <= BARELY else close}"
    alike = _alike(best.poured, listed[1:])
    return f"with {best.offer.label} {_wrong(best.poured)}{alike}, {sure} as a single purchase."


def _alike(best: Poured, others: Sequence[Ranked]) -> str:
    """Say which others help as much: what comes first among them is by the alphabet alone."""
    same = [one.offer.label for one in others if one.poured and one.poured.value <= best.value * (1 + BARELY) + 1e-9]
    if len(same) > MOST_ALIKE:
        return f" ({counted(len(same), 'other')} as much)"
    return f" ({' or '.join(same)} as much)" if same else ""


def _by_more(found: Sourcing) -> str:
    """Say within what it was decided, where that is more than hardly anything."""
    return "" if found.gap <= BARELY else f" by more than {rough_percent(found.gap)}"


def _wrong(poured: Poured) -> str:
    return percent(poured.judged.closeness.misplaced_share, 1)


def _ranking(found: Sourcing, listed: Sequence[Ranked], width: int) -> str:
    if not listed:
        return ""
    priced = any(one.offer.price is not None for one in listed)
    columns = [
        Column("Buy", wraps=True),
        Column("deviation", right=True),
        Column("wrong %", right=True),
        Column("points less", right=True),
    ]
    if priced:
        columns += [Column(head, right=True) for head in ("pack g", "costs", f"points less for {SPENT}")]
    rows = [_row(found, one, priced) for one in listed]
    behind = len(found.ranked) - len(listed)
    undecided = "" if found.status == "proven" else ", as far as it is known"
    more = f"{counted(behind, 'more bottle')} that could be bought gain nothing, or less than these{undecided}."
    more = more if behind else ""
    return "\n".join(filter(None, [aligned(columns, rows, width), paragraphs([more] if more else [], width)]))


def _row(found: Sourcing, one: Ranked, priced: bool) -> tuple[str, ...]:
    assert one.poured is not None
    wrong, price = one.poured.judged.closeness.misplaced_share, one.offer.price
    less = None if found.now is None else 100 * (found.now.judged.closeness.misplaced_share - wrong)
    cells = (
        one.offer.label,
        f"{one.poured.judged.closeness.value:.{FIGURES}g}",
        f"{100 * wrong:.1f}",
        "" if less is None else f"{less:.2f}",
    )
    if not priced:
        return cells
    return (
        *cells,
        "" if one.offer.pack_g is None else f"{one.offer.pack_g:g}",
        "?" if price is None else f"{price:.2f}",
        "" if not price or less is None else f"{SPENT * less / price:.2f}",
    )


def _together(found: Sourcing, width: int) -> str:
    if not found.best:
        return ""
    columns = (
        Column("Buy", right=True),
        Column("best together", wraps=True),
        Column("deviation", right=True),
        Column("wrong %", right=True),
        Column("", wraps=True),
    )
    rows = [
        (
            str(one.count),
            ", ".join(offer.label for offer in one.offers),
            f"{one.poured.judged.closeness.value:.{FIGURES}g}",
            f"{100 * one.poured.judged.closeness.misplaced_share:.1f}",
            "" if one.poured.status == "proven" else f"could be up to {_closer(one.poured)} closer",
        )
        for one in found.best
    ]
    return "\n".join(filter(None, [aligned(columns, rows, width), paragraphs(_no_more(found), width)]))


def _no_more(found: Sourcing) -> list[str]:
    """Say which number of purchases is not listed, because as many bring no more than fewer do."""
    most = max(one.count for one in found.best)
    if most >= found.most or found.status != "proven":
        return []
    more = f"A {ORDINALS[most]} bottle" if most < len(ORDINALS) else "One bottle more"
    return [f"{more} brings it no closer{_by_more(found)}."]


def _closer(poured: Poured) -> str:
    return rough_percent(max(0.0, 1 - poured.bound / poured.value))


def _notes(found: Sourcing, listed: Sequence[Ranked]) -> list[str]:
    shown = [one.offer for one in listed] + [offer for one in found.best for offer in one.offers]
    lines = []
    if found.offered.shelf.settings.limits.cost_per_kg is not None and any(not offer.priced for offer in shown):
        lines.append("What has no price in a catalogue counts as free here: the limit of cost does not hold it back.")
    aside = [f"{offer.label} ({offer.aside})" for offer in found.offered.offers if offer.aside]
    if aside:
        lines.append(f"Left out: {', '.join(aside)}.")
    if found.status != "proven":
        lines.append("Not everything was decided in the time given: a purchase may help more than is said here.")
    return lines if found.now is None else [*lines, *beside_fit(found.printed, found.now.judged)]
