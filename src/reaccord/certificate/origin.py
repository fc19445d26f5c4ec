"""Whether the programme in a certificate is the one a study states."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Literal

from reaccord.certificate.format import Certificate, Problem, Refused
from reaccord.certificate.restate import restate
from reaccord.domain.study import Study

SAME = Fraction(1, 10**12)
"""Relative to the largest number of its kind in its row: where no decimals allow more."""

Agreement = Literal["exact", "to 1e-12"]
Part = tuple[str, Sequence[Fraction | None]]


def check_origin(certificate: Certificate, study: Study) -> Agreement:
    """Return how well the certificate's programme is that of the study.

    Raises
    ------
    Refused
        If it is another one; the message says where they part.
    """
    own, restated = certificate.problem, restate(study)
    if own == restated:
        return "exact"
    for what, one, other in (
        ("columns", own.columns, restated.columns),
        ("rows", tuple(row.label for row in own.rows), tuple(row.label for row in restated.rows)),
        ("limits", tuple(row.label for row in own.limits), tuple(row.label for row in restated.limits)),
        ("strengths", own.strengths, restated.strengths),
    ):
        if one != other:
            raise Refused(f"the programme in it is not the study's: other {what}.")
    for (what, mine), (_, theirs) in zip(_parts(own), _parts(restated), strict=True):
        size = max((abs(x) for x in theirs if x is not None), default=Fraction(0))
        for one_number, other_number in zip(mine, theirs, strict=True):
            if one_number is None or other_number is None:
                apart = one_number is not other_number
            else:
                apart = abs(one_number - other_number) > SAME * size
            if apart:
                raise Refused(f"the programme in it is not the study's: another {what}.")
    return "to 1e-12"


def changed_inputs(certificate: Certificate, study: Study) -> tuple[str, ...]:
    """Return the study's files that are not, byte for byte, those the certificate was made from."""
    made_from = dict(certificate.inputs)
    return tuple(entry.file for entry in study.inputs if made_from.get(entry.file) != entry.sha256)


def _parts(problem: Problem) -> Iterator[Part]:
    """Yield every array of a problem with what it is."""
    yield "batch", (problem.batch,)
    yield "basis", problem.basis
    yield "minimum", problem.minimum
    yield "maximum", problem.maximum
    for row in problem.rows:
        yield f'share of "{row.label}"', (row.low, row.high)
        yield f'factor of "{row.label}"', (row.factor_squared,)
        yield f'content of "{row.label}"', row.content
    for limit in problem.limits:
        yield f'limit "{limit.label}"', (*limit.amounts, limit.most)
        yield f'limit "{limit.label}"', limit.used
