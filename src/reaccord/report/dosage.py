"""Highest dosage, totals of restricted substances and declaration as plain data, CSV and text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from reaccord.answer.formula import formula_rows
from reaccord.domain.lines import ANY_PRODUCT
from reaccord.domain.three_figures import three_figures
from reaccord.report.csv_table import Columns, csv_text
from reaccord.report.data import about, cautions, input_rows, rule_rows
from reaccord.report.layout import Column, aligned, counted, headed, paragraphs
from reaccord.report.quantities import UNITS, exact_percent, in_unit, six_figures, told_apart, trimmed
from reaccord.safety.declaration import Declaration, Declared
from reaccord.safety.dosage import Dosage, Highest, Total, unnamed_g

MOST_SOURCES = 3
MASSES = ("highest_dosage", "concentrate", "poured")
PRODUCTS: Columns = {
    "product": str,
    **dict.fromkeys(MASSES, lambda share: exact_percent(six_figures(share))),
    "rule": str,
}


@dataclass(frozen=True)
class Safety:
    """What `dosage` found; `declaration` is None where the study states no dosage or no cosmetic use."""

    dosage: Dosage
    declaration: Declaration | None


def dosage_data(found: Safety) -> dict[str, Any]:
    """Return `dosage`'s data; shares are fractions of the finished product."""
    study = found.dosage.study
    return {
        **about(study),
        "formula": formula_rows(found.dosage.judged),
        "dosage": found.dosage.dosage,
        "product": study.settings.limits.product or None,
        "use": study.settings.limits.use or None,
        "products": _product_rows(found.dosage),
        "totals": [_total_row(total) for total in found.dosage.totals],
        "declaration": None if found.declaration is None else [_declared_row(e) for e in found.declaration.entries],
        "unnamed": [] if found.declaration is None else list(found.declaration.unnamed),
        "tables": table_rows(found),
        "rules": rule_rows(study),
        "cautions": cautions(study),
        "inputs": input_rows(study),
    }


def dosage_csv(found: Safety) -> str:
    """Return the highest dosage of each product."""
    return csv_text(PRODUCTS, _product_rows(found.dosage))


def dosage_text(found: Safety, width: int) -> str:
    """Return it all for people: the verdict, the products, the totals, what to declare, on what it rests."""
    parts = [headed(found.dosage.study.title, _verdict(found.dosage), width)]
    parts += [_table(cells(found), width) for cells in (product_cells, total_cells, declared_cells)]
    parts += [paragraphs(_grounds(found), width), paragraphs(cautions(found.dosage.study), width)]
    return "\n\n".join(part for part in parts if part) + "\n"


def table_rows(found: Safety) -> list[dict[str, Any]]:
    """Return the tables used, each with who says so, which edition of which day; one row for each of these."""
    study, declared = found.dosage.study, found.declaration
    limits = study.settings.limits.table
    rows = [
        {"file": limits, "authority": e.line.authority, "edition": e.line.edition, "date": e.line.date}
        for e in study.settled.rules
    ]
    if declared is not None:
        rows += [
            {"file": declared.table.file, "authority": x.authority, "edition": x.edition, "date": x.date}
            for x in declared.lines
        ]
    return [row for number, row in enumerate(rows) if row not in rows[:number]]


def _product_rows(found: Dosage) -> list[dict[str, Any]]:
    return [
        {
            "product": each.product,
            **dict(zip(MASSES, _thrice(each, found), strict=True)),
            "rule": each.rule or None,
            "absent": _absent_rows(each.absent),
        }
        for each in found.highest
    ]


def _total_row(total: Total) -> dict[str, Any]:
    return {
        "rule": total.claim.label,
        "kind": total.claim.key.kind,
        "subject": list(total.claim.key.subject),
        "unit": total.claim.unit,
        "share": total.share,
        "max": total.claim.most,
        "held": total.held,
        "sources": [
            {
                "material": s.stock.key.material,
                "strength": s.stock.key.strength,
                "lot": s.stock.key.lot,
                "share": s.share,
            }
            for s in total.sources
        ],
        "undeclared": total.undeclared,
        "absent": _absent_rows(total.absent),
    }


def _absent_rows(absent: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"constituent": name, "material": material} for name, material in absent]


def _declared_row(entry: Declared) -> dict[str, Any]:
    line = entry.line
    return {
        "name": line.label_name,
        "kind": line.kind,
        "share": entry.share,
        "threshold": entry.threshold,
        "listed": entry.listed,
        "new_from": line.new_from.isoformat() if line.new_from else None,
        "all_from": line.all_from.isoformat() if line.all_from else None,
        "sources": list(entry.sources),
    }


def _verdict(found: Dosage) -> str:
    mine, at = found.own, found.dosage
    if not found.highest:
        return "no table of restricted substances is named (limits.table), so nothing is known to limit its dosage."
    if mine is None:
        return f"highest dosage in {counted(len(found.highest), 'kind')} of product."
    said = f"none of it may go into {_product(mine)}: {mine.rule}"
    if mine.accord > 0:
        why = f": {mine.rule} decides" if mine.rule else ", which no rule limits"
        said = f"at most {_at_most(mine.accord)} % of accord in {_product(mine)}{why}"
    if mine.absent:
        said += f" (not counting {_of_materials(mine.absent)}: not analysed)"
    broken = [label for label in found.broken if mine.accord > 0 or label != mine.rule]
    if at is not None and broken:
        said += f"; at {_percent(at)} it breaks {', '.join(broken)}"
    elif at is not None and not found.broken:
        said += f"; at {_percent(at)} every rule of the table holds"
    return f"{said}."


def _product(each: Highest) -> str:
    return "any product" if each.product == ANY_PRODUCT else each.product


def _of_materials(absent: Iterable[tuple[str, str]]) -> str:
    """Name what was not analysed: each constituent with its materials."""
    by_name: dict[str, list[str]] = {}
    for name, material in absent:
        by_name.setdefault(name, []).append(material)
    return ", ".join(f"{name} in {' and '.join(materials)}" for name, materials in by_name.items())


class Cells(NamedTuple):
    """A table as people read it: heads (those of figures end in %), rows, and what is said below."""

    heads: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    notes: Sequence[str] = ()


def product_cells(found: Safety) -> Cells:
    """Return the highest dosage in each product, in three masses."""
    heads = ("Highest dosage", "accord %", "concentrate %", "as poured %", "what decides")
    rows = [
        (
            _product(each),
            *(_at_most(share) for share in _thrice(each, found.dosage)),
            each.rule or "nothing but the formula itself",
        )
        for each in found.dosage.highest
    ]
    absent = dict.fromkeys(pair for each in found.dosage.highest for pair in each.absent)
    notes = [
        f"Not analysed, which is not none: {name} is known to occur in {material}, whose analysis has no row of it; "
        "no dosage above counts it."
        for name, material in absent
    ]
    return Cells(heads, rows, notes)


def total_cells(found: Safety) -> Cells:
    """Return where each rule stands at the study's dosage, and what its sources may hold unnamed."""
    totals = found.dosage.totals
    shown = [total for total in totals if total.share > 0 or total.absent]
    heads = (f"At {_percent(found.dosage.dosage or 0.0)} of accord", "of product %", "at most %", "from")
    rows = [(_label(t), *_beside(t.share, t.claim.most, t.claim.unit), _sources(t)) for t in shown]
    nothing = len(totals) - len(shown)
    notes = [f"Of {nothing} more nothing is in it."] if nothing else []
    judged = found.dosage.judged
    hidden = (found.dosage.dosage or 0.0) * unnamed_g(judged, shown) / judged.totals.accord_g
    if hidden > 0:
        notes.append(f"Up to {_percent(hidden)} of the product comes from these sources without a name.")
    return Cells(heads, rows, notes)


def _table(cells: Cells, width: int) -> str:
    columns = [Column(head, wraps=not head.endswith("%"), right=head.endswith("%")) for head in cells.heads]
    table = aligned(columns, cells.rows, width) if cells.rows else ""
    return "\n".join(part for part in (table, paragraphs(cells.notes, width)) if part)


def _label(total: Total) -> str:
    unit = total.claim.unit
    return f"{total.claim.label} ({UNITS[unit]})" if unit == "ratio" else total.claim.label


def _sources(total: Total) -> str:
    if not total.sources:
        return f"not analysed: {_of_materials(total.absent)}"
    named = [f"{s.stock.key.material} {s.share / total.share * 100:.0f} %" for s in total.sources[:MOST_SOURCES]]
    more = len(total.sources) - len(named)
    return ", ".join(named) + (f", {more} more" if more else "")


def declared_cells(found: Safety) -> Cells:
    """Return what the label names, what is below its threshold, and what was not looked for."""
    limits = found.dosage.study.settings.limits
    heads = (f"To declare ({limits.use})", "of product %", "from over %", "comes from")
    if found.declaration is None:
        keys = [] if limits.dosage is not None else ["limits.dosage"]
        keys += [] if limits.use else ['limits.use ("leave-on" or "rinse-off")']
        missing = f"What to declare: state {' and '.join(keys)}."
        return Cells(heads, (), () if limits.use == "not cosmetic" else (missing,))
    entries = found.declaration.entries
    listed = [entry for entry in entries if entry.listed]
    rows = [(_called(e, found), *_beside(e.share, e.threshold), _from(e.sources)) for e in listed]
    notes = [] if listed else ["Nothing of the list is over its threshold."]
    below = [entry.line.label_name for entry in entries if not entry.listed]
    if below:
        notes.append(f"In it, under the threshold: {', '.join(below)}.")
    if found.declaration.unnamed:
        quality = {b.key.material: b.line.quality for b in found.dosage.study.settled.bottles if b.line.quality}
        said = [f"{name} ({quality[name]})" if name in quality else name for name in found.declaration.unnamed]
        notes.append(f"Without a label_name, so not looked for among the naturals of the list: {', '.join(said)}.")
    return Cells(heads, rows, notes)


def _called(entry: Declared, found: Safety) -> str:
    due = entry.due(found.dosage.study.date)
    if entry.line.kind == "prohibited":
        return f"{entry.line.label_name} (prohibited)"
    return f"{entry.line.label_name} (new products from {due})" if due else entry.line.label_name


def _from(sources: Sequence[str]) -> str:
    more = len(sources) - MOST_SOURCES
    return ", ".join(sources[:MOST_SOURCES]) + (f", {more} more" if more > 0 else "")


def _grounds(found: Safety) -> list[str]:
    told = ("authority", "edition", "date")
    named = ((row["file"], [row[k] for k in told if row[k]]) for row in table_rows(found))
    said = [f"{file}: {', '.join(by) or 'it names no authority, edition or date'}." for file, by in named]
    entries = () if found.declaration is None else found.declaration.entries
    today = found.dosage.study.date
    days = {e.line.all_from for e in entries if e.listed and e.line.all_from and e.line.all_from > today}
    if days:
        said.append(f"Products already on the market declare all of it from {max(days)} at the latest.")
    return said


def _percent(share: float) -> str:
    return f"{_figures(share)} %"


def _beside(value: float, most: float, unit: str = "share") -> tuple[str, str]:
    """Write what something stands at and its limit so that it is seen which is more."""
    return told_apart(value, most, unit), told_apart(most, value, unit)


def _figures(share: float) -> str:
    """Write a share in percent, in three figures, never as a power of ten."""
    return in_unit(share, "share")


def _at_most(share: float) -> str:
    """Write a share that may be used in full: never rounded up."""
    return trimmed(f"{three_figures(100 * share, up=False):f}")


def _thrice(each: Highest, found: Dosage) -> tuple[float, float, float]:
    """Return a dosage counted in accord, in concentrate, and in the formula as poured."""
    return each.accord, found.masses.concentrate(each.accord), found.masses.poured(each.accord)
