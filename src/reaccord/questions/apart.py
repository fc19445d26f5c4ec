"""A programme whose formulas do without some of the bottles that others use: told by material, whatever its strength.

Of a formula that pours the materials `M`, another leaves out at least `d`: `sum over M of [material used] <= |M| - d`.
Where only one stock of a material can be used, its switch says whether it is; where several can (lots beside each
other), a mark says it, a column of a batch or nothing that holds nothing: `[stock used] <= mark`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study


def materials_of(study: Study, amounts: FloatArray) -> frozenset[str]:
    """Return the materials that amounts (n,) pour."""
    return frozenset(stock.key.material for stock, x in zip(study.stocks, amounts, strict=False) if x > 0)


def apart(study: Study, programme: Programme, others: Iterable[frozenset[str]], dropped: int) -> Programme:
    """Return the programme of formulas that leave out so many materials of each of the others."""
    sets = list(others) if dropped else []
    stocks: dict[str, list[int]] = {}
    for i, stock in enumerate(study.stocks):
        stocks.setdefault(stock.key.material, []).append(i)
    told = {name: stocks.get(name, []) for materials in sets for name in sorted(materials)}
    marked = [name for name, columns in told.items() if not _one_alone(programme, columns)]
    n = len(programme.columns)
    marks = {name: n + k for k, name in enumerate(marked)}
    rows = [
        _row(n + len(marked), {marks[name]: -1 / programme.batch_g}, {i: 1.0}, 0.0)
        for name in marked
        for i in told[name]
    ]
    for materials in sets:
        used = {marks[name]: 1.0 for name in materials if name in marks}
        used |= {i: 1.0 for name in sorted(materials - marks.keys()) for i in told[name]}
        rows.append(_row(n + len(marked), {}, used, len(materials) - dropped))
    return _with(programme, tuple(f"used: {name}" for name in marked), rows)


def _one_alone(programme: Programme, columns: list[int]) -> bool:
    """Whether of these columns only one can be used in a formula."""
    if len(columns) < 2:
        return True
    return any(
        all(len(strength) == 1 for strength in material) and {i for s in material for i in s} >= set(columns)
        for material in programme.strengths
    )


def _row(size: int, amounts: dict[int, float], used: dict[int, float], most: float) -> LimitRow:
    grams, uses = np.zeros(size), np.zeros(size)
    grams[list(amounts)] = list(amounts.values())
    uses[list(used)] = list(used.values())
    return LimitRow(
        LimitKey("lines", ("apart",)), "apart", "does without bottles of another formula", grams, uses, most
    )


def _with(programme: Programme, marks: tuple[str, ...], rows: list[LimitRow]) -> Programme:
    """Return the programme with these columns and rows more."""
    more = np.zeros(len(marks))
    whole = np.full(len(marks), programme.batch_g)
    limits = [
        replace(row, amounts=np.append(row.amounts, more), used=np.append(row.used, more)) for row in programme.limits
    ]
    return replace(
        programme,
        columns=(*programme.columns, *marks),
        content=np.hstack([programme.content, np.zeros((len(programme.rows), len(marks)))]),
        basis=np.append(programme.basis, more),
        minimum=np.append(programme.minimum, whole),
        maximum=np.append(programme.maximum, whole),
        step=np.append(programme.step, more),
        limits=(*limits, *rows),
    )
