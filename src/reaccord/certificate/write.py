"""A certificate for a solved programme: stated, repaired, proven, checked."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from reaccord.certificate.format import Certificate, Claim, Problem
from reaccord.certificate.prove import Prover
from reaccord.certificate.repair import repair
from reaccord.certificate.restate import restate
from reaccord.certificate.stated import check_same
from reaccord.certificate.verify import Walk, excess_of, gap_of, rounded_up, value_of
from reaccord.contract import NEARLY_ZERO, FloatArray, Programme
from reaccord.domain.study import Study
from reaccord.findings import SolverFault

FINEST = 1e-9
"""A gap finer than this is not aimed at."""
PLACES = 24
"""Decimals of a bound that is claimed."""
AGREEMENT = 1e-6
"""Relative; the formula in fractions deviates by what the solver said, to this."""


def certify(
    study: Study, programme: Programme, amounts: FloatArray, gap: float, over: Callable[[], bool]
) -> Certificate:
    """Return the certificate of a study's formula.

    Parameters
    ----------
    study, programme
        The study and the programme that was solved; measure `squares`.
    amounts
        Gram of every column, unrounded.
    gap
        The relative gap to prove. Where the tree reaches less, the certificate claims less.
    over
        Asked often; when true, what is proven so far is what the certificate claims.

    Raises
    ------
    SolverFault
        If the study stated in fractions is another programme, or the formula holds its limits not even nearly.
    """
    problem = restate(study)
    check_same(problem, programme)
    inputs = tuple((entry.file, entry.sha256) for entry in study.inputs)
    certificate = certificate_of(problem, amounts, gap, over, (study.title, inputs))
    said, found = programme.value(amounts), float(certificate.claim.value)
    if not math.isclose(said, found, rel_tol=AGREEMENT, abs_tol=NEARLY_ZERO):
        raise SolverFault(f"in fractions the formula deviates by {found:.9g}, the solver said {said:.9g}.")
    return certificate


def certificate_of(
    problem: Problem,
    amounts: FloatArray,
    gap: float,
    over: Callable[[], bool],
    source: tuple[str, tuple[tuple[str, str], ...]] = ("", ()),
) -> Certificate:
    """Return the certificate of a formula for any problem; `source` is a title and the inputs (file, SHA-256)."""
    formula = repair(problem, amounts.tolist())
    excess = excess_of(problem, formula)
    value = rounded_up(value_of(problem, formula))
    if not isinstance(excess, Fraction):
        raise SolverFault("the formula uses two strengths of one material.")
    wanted = Fraction(max(gap * (1 - 1e-7), FINEST))
    prover = Prover(problem, value, value * (1 - wanted), over)
    proof = prover.run()
    claim = Claim(value, Fraction(0), gap_of(value, Fraction(0)), rounded_up(excess))
    named = {label: x for label, x in zip(problem.columns, formula, strict=True) if x}
    unclaimed = Certificate(*source, problem, named, claim, proof.duals, proof.tree)
    bound = min(value, rounded_down(Walk(unclaimed, prover.largest).proven()))
    return replace(unclaimed, claim=replace(claim, bound=bound, gap=gap_of(value, bound)))


def rounded_down(bound: Fraction | float) -> Fraction:
    """Return a bound rounded down to as many decimals as a claim has; infinite: larger than any value."""
    if not isinstance(bound, Fraction):
        return Fraction(10**300 if bound > 0 else 0)
    return Fraction(math.floor(bound * 10**PLACES), 10**PLACES)
