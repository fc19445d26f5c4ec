"""What `check` says of a study that can be used: how it was taken."""

from __future__ import annotations

from typing import Any

from reaccord.domain.study import Study
from reaccord.names.key import name_key
from reaccord.report.csv_table import csv_text
from reaccord.report.data import about, input_rows, target_row
from reaccord.report.layout import counted, paragraphs
from reaccord.report.quantities import percent


def check_data(study: Study) -> dict[str, Any]:
    """Return counts and sums as plain data."""
    kinds = [row.kind for row in study.target.rows]
    return {
        **about(study),
        "target": target_row(study) | {"rows": kinds.count("named"), "foreign_rows": kinds.count("foreign")},
        "shelf": {
            "bottles": len(study.tables.bottles),
            "pourable": sum(stock.recipe is None for stock in study.stocks),
            "dilutions_possible": sum(stock.recipe is not None for stock in study.stocks),
            "set_aside": [
                {"material": item.stock.label, "reason": item.reason}
                for item in study.set_aside
                if item.stock.recipe is None
            ],
            "carriers": sorted(study.carriers & _on_shelf(study)),
        },
        "taken_pure": taken_pure(study),
        "rules": [
            {"rule": rule.label, "kind": rule.kind, "absent": [m.name for m in rule.members if m.absent]}
            for rule in study.rules
        ],
        "no_source": no_source(study),
        "unknown": unknown(study),
        "inputs": input_rows(study),
    }


def no_source(study: Study) -> list[str]:
    """Return the named rows that no stock holds anything of."""
    held = _on_shelf(study)
    return [row.label for row in study.target.rows if row.kind == "named" and not row.members & held]


def unknown(study: Study) -> list[dict[str, Any]]:
    """Return the constituents that nothing knows: the cell they stand in first, and whether target and shelf hold them.

    `shelf` is what may be poured, dilutions and carriers too.
    """
    target = {name for row in study.target.rows if row.kind == "named" for name in row.members}
    shelf = _on_shelf(study)
    found = []
    for name, places in study.unknown.items():
        wanted = name in target or any(place.file == study.settings.target.table for place in places)
        where = [side for side, there in (("target", wanted), ("shelf", name in shelf)) if there]
        found.append({"constituent": name, "file": places[0].file, "row": places[0].row, "where": where})
    return sorted(found, key=lambda item: (item["file"], item["row"] or 0, item["constituent"]))


def taken_pure(study: Study) -> list[str]:
    """Return the parts that have the name of a constituent and of a material, and were taken as the constituent."""
    materials = {name_key(line.material) for line in study.tables.bottles}
    materials |= {name_key(line.material) for line in study.tables.compositions}
    known = {name_key(text) for c in study.constituents.values() for text in (c.name, *c.synonyms)}
    both = materials & known
    return sorted({x.part for x in study.tables.compositions if not x.part_kind and name_key(x.part) in both})


def _on_shelf(study: Study) -> set[str]:
    return {name for stock in study.stocks for name, gram in stock.content.typical.items() if gram > 0}


def check_text(study: Study, width: int) -> str:
    """Return the same in sentences."""
    data = check_data(study)
    target, shelf = data["target"], data["shelf"]
    published, unaccounted = (percent(target[name], 2) for name in ("published_sum", "unaccounted"))
    warned = f"{counted(len(study.warnings), 'warning')}, no errors." if study.warnings else "no findings."
    lines = [
        f"{study.title or 'Untitled study'} ({data['date']}): {warned}",
        f"Target     {', '.join(target['samples']) or 'ranges'}: {counted(target['rows'], 'row')}"
        + (f", published sum {published}, {unaccounted} unaccounted for" if target["samples"] else ""),
        f"Shelf      {counted(shelf['bottles'], 'bottle')}, {shelf['pourable']} to pour from, "
        f"{counted(shelf['dilutions_possible'], 'dilution')} could be made, "
        f"{counted(target['foreign_rows'], 'foreign constituent')}",
    ]
    if shelf["set_aside"]:
        lines.append("Left out   " + "; ".join(f"{i['material']} ({i['reason']})" for i in shelf["set_aside"]))
    if shelf["carriers"]:
        lines.append("Carriers   " + ", ".join(shelf["carriers"]))
    if data["taken_pure"]:
        parts = ", ".join(data["taken_pure"])
        lines.append(f"Pure       {parts} as parts: the constituents, not the bottles of that name")
    if study.rules:
        lines.append(f"Rules      {len(study.rules)} for {study.settings.limits.product or 'any product'}")
        absent = sorted({name for rule in data["rules"] for name in rule["absent"]})
        if absent:
            lines.append("           not on the shelf: " + ", ".join(absent))
    if data["no_source"]:
        lines.append("No source  " + ", ".join(data["no_source"]))
    if data["unknown"]:
        names = ", ".join(item["constituent"] for item in data["unknown"])
        one = len(data["unknown"]) == 1
        lines.append(f"Not known  {names}: taken as {'a constituent of its' if one else 'constituents of their'} own")
    return paragraphs(lines, width, " " * 11) + "\n"


def check_csv(study: Study) -> str:
    """Write the warnings, one a row."""
    columns = dict.fromkeys(("severity", "code", "file", "row", "column", "message"), str)
    return csv_text(columns, ({"severity": found.severity, **found.as_dict()} for found in study.warnings))
