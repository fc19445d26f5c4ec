"""Certificates for the tests, each made once."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

from tests.random_programmes import realistic, small

from reaccord.certificate.format import Certificate
from reaccord.certificate.stated import problem_of
from reaccord.certificate.write import certificate_of, certify
from reaccord.contract import Budget, Programme
from reaccord.programme import state
from reaccord.solvers.exact import solve
from reaccord.study.load import load_study

GAP = 1e-3
EXAMPLE = Path(__file__).parents[3] / "examples" / "geranium" / "study.toml"


def never() -> bool:
    return False


def certified(programme: Programme, gap: float = GAP) -> Certificate | None:
    """Return the certificate of the closest formula, None if there is no formula."""
    answer = solve(programme, Budget(gap=gap))
    if answer.amounts is None:
        return None
    return certificate_of(problem_of(programme), answer.amounts, gap, never)


@cache
def of_small(seed: int, gap: float = GAP) -> Certificate | None:
    return certified(small(seed), gap)


@cache
def of_realistic(lines: int | None, strengths: tuple[float, ...]) -> Certificate:
    found = certified(realistic(20, 18, 0, lines=lines, strengths=strengths))
    assert found is not None
    return found


@cache
def of_example() -> Certificate:
    study = load_study(EXAMPLE)
    programme = state(study)
    answer = solve(programme, Budget(gap=GAP))
    assert answer.amounts is not None
    assert math.isfinite(answer.value)
    return certify(study, programme, answer.amounts, GAP, never)
