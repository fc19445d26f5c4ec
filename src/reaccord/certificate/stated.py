"""A programme between floats and fractions: the one a solver gets, and the one a certificate holds."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import cast

import numpy as np

from reaccord.certificate.format import Limit, Numbers, Problem, Row
from reaccord.contract import FloatArray, LimitRow, Programme
from reaccord.domain.limit_key import LimitKey, LimitKind
from reaccord.findings import SolverFault
from reaccord.solvers.exact.scaled import cleaned

SAME = 1e-12
"""Relative to the largest entry of its array: two statements of one study agree by this."""
SIMPLE = 10**6
"""A dilution's strength has at most this denominator."""


def problem_of(programme: Programme) -> Problem:
    """Return a programme in fractions: every float the binary number that it is, but dilutions as exact multiples."""
    programme = cleaned(programme)
    problem = Problem(
        batch=Fraction(programme.batch_g),
        columns=programme.columns,
        basis=_fractions(programme.basis),
        minimum=_fractions(programme.minimum),
        maximum=tuple(None if math.isinf(x) else Fraction(x) for x in programme.maximum.tolist()),
        rows=tuple(
            Row(label, Fraction(low), Fraction(high), Fraction(factor) ** 2, _fractions(content))
            for label, low, high, factor, content in zip(
                programme.rows,
                programme.low.tolist(),
                programme.high.tolist(),
                programme.factor.tolist(),
                programme.content,
                strict=True,
            )
        ),
        limits=tuple(
            Limit(*row.key, row.label, _fractions(row.amounts), _fractions(row.used), Fraction(row.most))
            for row in programme.limits
        ),
        strengths=programme.strengths,
    )
    for strengths in problem.strengths:
        single = [columns[0] for columns in strengths if len(columns) == 1]
        strong = max(single, key=lambda i: problem.basis[i], default=-1)
        for weak in single:
            if 0 < problem.basis[weak] < problem.basis[strong]:
                problem = _aligned(problem, strong, weak)
    return problem


def _aligned(problem: Problem, strong: int, weak: int) -> Problem:
    """Return the problem with the entries of a dilution that are multiples, to rounding, as exact multiples."""
    ratio = (problem.basis[weak] / problem.basis[strong]).limit_denominator(SIMPLE)

    def close(one: Fraction, two: Fraction, size: Fraction) -> bool:
        return abs(one - two) <= Fraction(SAME) * size

    def aligned(row: Numbers, size: Fraction) -> Numbers:
        entries = list(row)
        if close(row[strong] * ratio, row[weak], size):
            entries[weak] = row[strong] * ratio
        return tuple(entries)

    rows = [replace(row, content=aligned(row.content, row.content[weak])) for row in problem.rows]
    limits = [
        replace(row, amounts=aligned(row.amounts, abs(row.amounts[weak]) + max(map(abs, row.amounts)) / 1000))
        for row in problem.limits
    ]
    maximum = list(problem.maximum)
    one, two = maximum[strong], maximum[weak]
    if one is not None and two is not None and close(one / ratio, two, two):
        maximum[weak] = one / ratio
    return replace(
        problem,
        basis=aligned(problem.basis, problem.basis[weak]),
        rows=tuple(rows),
        limits=tuple(limits),
        maximum=tuple(maximum),
    )


def programme_of(problem: Problem) -> Programme:
    """Return a programme in floats, for a solver."""
    return Programme(
        columns=problem.columns,
        rows=tuple(row.label for row in problem.rows),
        content=np.array([_floats(row.content) for row in problem.rows]).reshape(-1, len(problem.columns)),
        low=_floats(tuple(row.low for row in problem.rows)),
        high=_floats(tuple(row.high for row in problem.rows)),
        factor=np.sqrt(_floats(tuple(row.factor_squared for row in problem.rows))),
        basis=_floats(problem.basis),
        batch_g=float(problem.batch),
        minimum=_floats(problem.minimum),
        maximum=np.array([math.inf if x is None else float(x) for x in problem.maximum]),
        limits=tuple(
            LimitRow(_key(row), row.label, row.label, _floats(row.amounts), _floats(row.used), float(row.most))
            for row in problem.limits
        ),
        strengths=problem.strengths,
    )


def check_same(exact: Problem, programme: Programme) -> None:
    """Compare a programme stated in fractions with the one the solver was given.

    Raises
    ------
    SolverFault
        If they are not the same to 1e-12: a fault of ours in one of the two.
    """
    other = programme_of(exact)
    if (other.columns, other.rows, other.strengths) != (programme.columns, programme.rows, programme.strengths):
        raise SolverFault("stated in fractions, the programme has other columns or rows.")
    if [(row.key, row.label) for row in other.limits] != [(row.key, row.label) for row in programme.limits]:
        raise SolverFault("stated in fractions, the programme has other limits.")
    pairs: list[tuple[str, FloatArray, FloatArray]] = [
        (name, getattr(other, name), getattr(programme, name))
        for name in ("content", "low", "high", "factor", "basis", "minimum", "maximum")
    ]
    for one, two in zip(other.limits, programme.limits, strict=True):
        pairs.append((f"limit {one.label}", np.append(one.amounts, one.most), np.append(two.amounts, two.most)))
        pairs.append((f"limit {one.label}, used", one.used, two.used))
    for name, one_array, two_array in pairs:
        finite = np.isfinite(one_array) & np.isfinite(two_array)
        size = float(np.abs(one_array[finite]).max(initial=0.0))
        apart = np.abs(one_array[finite] - two_array[finite]).max(initial=0.0)
        if (np.isfinite(one_array) != np.isfinite(two_array)).any() or apart > SAME * size:
            raise SolverFault(f"stated in fractions, the programme has another {name}.")


def _key(row: Limit) -> LimitKey:
    """Return the key of a limit; the kind in a certificate is any text."""
    return LimitKey(cast("LimitKind", row.kind), row.subject)


def _fractions(row: FloatArray) -> Numbers:
    return tuple(Fraction(x) for x in np.asarray(row, dtype=float).tolist())


def _floats(numbers: Numbers) -> FloatArray:
    return np.array([float(x) for x in numbers])
