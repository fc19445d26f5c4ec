"""Programmes with a thing or two changed, seeded: what a person does at the desk, and ruder things."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from reaccord.contract import Made, Programme

Change = Callable[[np.random.Generator, Programme], Programme]


def limit_moved(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it with one limit tighter or looser, by its coefficients where it is a ratio."""
    if not programme.limits:
        return programme
    k = int(rng.integers(len(programme.limits)))
    row = programme.limits[k]
    part = float(rng.choice([0.9, 0.99, 1.01, 1.2]))
    if row.used.any() and not row.amounts.any():
        moved = replace(row, most=max(row.most + float(rng.choice([-1, 1])), 1.0))
    elif row.most == 0:
        moved = replace(
            row, amounts=row.amounts + float(rng.normal(0, 0.02)) * np.abs(row.amounts).max() * programme.basis
        )
    else:
        moved = replace(row, most=part * row.most)
    return replace(programme, limits=(*programme.limits[:k], moved, *programme.limits[k + 1 :]))


def limit_gone(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it without one of its limits."""
    gone = int(rng.integers(max(len(programme.limits), 1)))
    return replace(programme, limits=tuple(row for k, row in enumerate(programme.limits) if k != gone))


def column_out(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it without one of its columns."""
    count = len(programme.columns)
    gone = int(rng.integers(count))
    return programme if count < 3 else programme.only(np.array([i for i in range(count) if i != gone]))


def column_in(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it with one column more, a mixture of two that are there, put before or after all others."""
    i, j = rng.integers(len(programme.columns), size=2)
    part = float(rng.uniform(0.2, 0.8))
    first = bool(rng.random() < 0.5)

    def wider(values: np.ndarray) -> np.ndarray:  # type: ignore[type-arg]
        new = part * values[..., i : i + 1] + (1 - part) * values[..., j : j + 1]
        return np.concatenate([new, values] if first else [values, new], axis=-1)

    def at(place: int) -> int:
        return place + first

    names = ("newcomer", *programme.columns) if first else (*programme.columns, "newcomer")
    return replace(
        programme,
        columns=names,
        content=wider(programme.content),
        basis=wider(programme.basis),
        minimum=wider(programme.minimum),
        maximum=wider(programme.maximum),
        step=wider(programme.step),
        limits=tuple(replace(row, amounts=wider(row.amounts), used=wider(row.used)) for row in programme.limits),
        strengths=tuple(tuple(tuple(map(at, own)) for own in strengths) for strengths in programme.strengths),
        made=tuple(Made(at(made.stock), at(made.column), made.least_g) for made in programme.made),
    )


def weight(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it with a row that weighs more, or less, or nothing."""
    factor = programme.factor.copy()
    factor[int(rng.integers(len(factor)))] *= float(rng.choice([0.0, 0.5, 2.0, 10.0]))
    return replace(programme, factor=factor)


def share(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it with another share in one row."""
    low, high = programme.low.copy(), programme.high.copy()
    k, times = int(rng.integers(len(low))), float(rng.uniform(0.5, 2.0))
    low[k], high[k] = times * low[k], times * high[k] + float(rng.choice([0.0, 0.01]))
    return replace(programme, low=low, high=high)


def row_out(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it without one of its rows."""
    kept = np.arange(len(programme.rows)) != int(rng.integers(len(programme.rows)))
    rows = tuple(row for row, there in zip(programme.rows, kept, strict=True) if there)
    arrays = {name: getattr(programme, name)[kept] for name in ("content", "low", "high", "factor")}
    return replace(programme, rows=rows, **arrays)


def masses(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it with other smallest masses and another batch."""
    minimum = programme.minimum * float(rng.choice([0.0, 0.7, 1.3]))
    batch_g = programme.batch_g * float(rng.choice([0.8, 1.0, 1.25]))
    return replace(programme, minimum=np.minimum(minimum, programme.maximum), batch_g=batch_g)


def strengths_free(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return it with strengths of one material that no longer exclude each other."""
    del rng
    return replace(programme, strengths=programme.strengths[1:])


CHANGES: tuple[Change, ...] = (
    limit_moved,
    limit_moved,
    limit_gone,
    column_out,
    column_in,
    weight,
    share,
    row_out,
    masses,
    strengths_free,
)


def changed(rng: np.random.Generator, programme: Programme) -> Programme:
    """Return a programme with one thing changed, sometimes two; labels stay apart."""
    for _ in range(1 + int(rng.random() < 0.3)):
        other = CHANGES[int(rng.integers(len(CHANGES)))](rng, programme)
        programme = other if len(set(other.columns)) == len(other.columns) else programme
    return programme
