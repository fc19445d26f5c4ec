"""Whether the programme in a certificate is the one a study states."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Literal

from reaccord.certificate.format import Certificate, Problem, Refused
from reaccord.certificate.restate import restate
from reaccord.domain.study import Study

SAME = Fraction(1, 10**12)
"""Relative to the number itself, or in what a limit takes of each stock to the largest there: a price less the ceiling
leaves what floats leave of a difference."""

Agreement = Literal["exact", "to 1e-12"]
Part = tuple[str, Sequence[Fraction | None], bool]
"""What it is, its numbers, and whether they are differences."""


def check_origin(certificate: Certificate, study: Study) -> Agreement:
    """Return how well the certificate's programme is that of the study.

    Raises
    ------
    Refused
        If it is another one; the message says where they part.
    """
    if study.settings.fit.measure != "squares":
        raise Refused(f"it is about squares, the study's measure is {study.settings.fit.measure}.")
    own, restated = certificate.problem, restate(study)
    if own == restated:
        return "exact"
    for what, one, other in (
        ("columns", own.columns, restated.columns),
        ("rows", tuple(row.label for row in own.rows), tuple(row.label for row in restated.rows)),
        ("limits", *(tuple((row.kind, row.subject, row.label) for row in stated.limits) for stated in (own, restated))),
        ("strengths", own.strengths, restated.strengths),
    ):
        if one != other:
            raise Refused(f"the programme in it is not the study's: other {what}.")
    for (what, mine, differences), (_, theirs, _) in zip(_parts(own), _parts(restated), strict=True):
        largest = max((abs(x) for x in theirs if x is not None), default=Fraction(0)) if differences else None
        if any(_apart(one, other, largest) for one, other in zip(mine, theirs, strict=True)):
            raise Refused(f"the programme in it is not the study's: another {what}.")
    return "to 1e-12"


def changed_inputs(certificate: Certificate, study: Study) -> tuple[str, ...]:
    """Return the study's files that are not, byte for byte, those the certificate was made from."""
    made_from = dict(certificate.inputs)
    return tuple(entry.file for entry in study.inputs if made_from.get(entry.file) != entry.sha256)


def _apart(one: Fraction | None, other: Fraction | None, size: Fraction | None) -> bool:
    if one is None or other is None:
        return one is not other
    return abs(one - other) > SAME * (abs(other) if size is None else size)


def _parts(problem: Problem) -> Iterator[Part]:
    """Yield every array of a problem with what it is."""
    yield "batch", (problem.batch,), False
    yield "basis", problem.basis, False
    yield "minimum", problem.minimum, False
    yield "maximum", problem.maximum, False
    for row in problem.rows:
        yield f'share of "{row.label}"', (row.low, row.high), False
        yield f'factor of "{row.label}"', (row.factor_squared,), False
        yield f'content of "{row.label}"', row.content, False
    for limit in problem.limits:
        yield f'limit "{limit.label}"', limit.amounts, True
        yield f'limit "{limit.label}"', (limit.most,), False
        yield f'limit "{limit.label}"', limit.used, False
