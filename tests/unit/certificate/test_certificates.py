"""Certificates that are made are accepted, and what the check takes for true is true."""

from __future__ import annotations

import ast
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from tests.random_programmes import banded, small
from tests.seeds import drawn, seeds
from tests.unit.certificate.made import EXAMPLE, GAP, certified, of_example, of_realistic, of_small

from reaccord.certificate import verify as room
from reaccord.certificate.format import Certificate, Duals, Problem, read, write
from reaccord.certificate.leaf import FREE, OFF, ON, UNIT, Leaf, dot
from reaccord.certificate.maxima import largest_of
from reaccord.certificate.stated import problem_of
from reaccord.certificate.verify import amounts_of, verify
from reaccord.certificate.write import certificate_of
from reaccord.contract import Budget
from reaccord.solvers.exact import solve

SEEDS = range(40)


def accepted(certificate: Certificate, gap: float = GAP) -> None:
    assert read(write(certificate)) == certificate
    verdict = verify(certificate)
    assert verdict.excess == 0, "the formula holds every limit exactly"
    assert certificate.claim.gap <= Fraction(gap) or certificate.claim.value <= Fraction(1, 10**9)


def test_the_example_is_certified() -> None:
    accepted(of_example())
    assert len(of_example().problem.columns) > 126
    assert any(of_example().problem.strengths)


@seeds(0, 16, len(SEEDS))
def test_random_programmes_are_certified(seed: int) -> None:
    found = of_small(seed)
    if found is not None:
        accepted(found)


@seeds(800, 812, 950)
def test_programmes_of_bands_are_certified(seed: int) -> None:
    found = certified(banded(seed))
    if found is not None:
        accepted(found)


@pytest.mark.parametrize("gap", [1e-2, 1e-6])
def test_a_gap_asked_for_is_proven(gap: float) -> None:
    for seed in range(8):
        found = certified(small(seed), gap)
        if found is not None:
            accepted(found, gap)


@pytest.mark.parametrize("lines", [None, 9])
@pytest.mark.parametrize("strengths", drawn((), (0.1, 0.01)))
def test_shelves_are_certified(lines: int | None, strengths: tuple[float, ...]) -> None:
    accepted(of_realistic(lines, strengths))


def test_what_was_drawn_has_every_kind_of_limit() -> None:
    problems = [problem_of(small(seed)) for seed in SEEDS]
    labels = {limit.label for problem in problems for limit in problem.limits}
    assert labels >= {"cost", "carrier", "undeclared", "restricted", "lines", "at least", "at most", "exactly"}
    assert any(row.low < row.high for problem in problems for row in problem.rows[:-1])
    assert any(len(columns) > 1 for problem in problems for strengths in problem.strengths for columns in strengths)
    trees = [found.tree for seed in SEEDS[:16] if (found := of_small(seed)) is not None]
    trees.append(of_realistic(9, ()).tree)
    assert {key for tree in trees for node in tree for key in node} >= {"leaf", "column", "material", "fixed"}


def test_stopped_at_once_it_claims_what_it_proves() -> None:
    programme = small(15)
    answer = solve(programme, Budget(gap=GAP))
    assert answer.amounts is not None
    found = certificate_of(problem_of(programme), answer.amounts, GAP, lambda: True)
    assert verify(found).claim.gap > Fraction(GAP)


def drawn_duals(problem: Problem, near: tuple[Fraction, ...], rng: np.random.Generator) -> Duals:
    """Return duals that nobody thought about, with levels near the formula's shares or anywhere."""
    scale, close = float(10.0 ** rng.uniform(-3, 1)), bool(rng.random() < 0.7)
    reached = [float(dot(row.content, near) / problem.batch) * rng.uniform(0.8, 1.2) for row in problem.rows]
    return Duals(
        tuple(Fraction(float(share if close else scale * rng.random())) for share in reached),
        Fraction(float(rng.normal() * 10.0 ** rng.uniform(-3, 2))),
        tuple(Fraction(float(rng.exponential(10.0 ** rng.uniform(-3, 2)))) for _ in problem.limits),
    )


@seeds(0, 10, 30)
def test_no_duals_prove_more_than_the_closest_formula(seed: int) -> None:
    """For any duals and any state that holds the formula; the maxima leave some closest formula in."""
    found = of_small(seed, 1e-6)
    if found is None:
        return
    rng = np.random.default_rng(seed)
    problem, amounts = found.problem, amounts_of(found)
    largest = largest_of(problem, found.claim.value)
    inside = all(most is None or x <= most for x, most in zip(amounts, largest, strict=True))
    for _ in range(40):
        leaf = Leaf(problem, largest, drawn_duals(problem, amounts, rng))
        choice = [(ON if x else OFF) if inside and rng.random() < 0.3 else FREE for x in amounts]
        bound = leaf.bound(problem, choice)
        assert bound <= found.claim.value * UNIT * (1 if any(choice) else 1 + Fraction(1, 10**6))


def test_a_weaker_stock_is_cut_off_only_where_the_stronger_one_stands_for_it() -> None:
    problem = of_realistic(None, (0.1, 0.01)).problem
    free = replace(problem, strengths=())
    value = Fraction(1)
    with_it, without = largest_of(problem, value), largest_of(free, value)
    weak = [columns[0] for strengths in problem.strengths for columns in strengths[1:]]
    assert sum(with_it[i] != without[i] for i in weak) > len(weak) // 2
    row = problem.rows[0]
    i = next(i for i in weak if row.content[i] > 0 and with_it[i] != without[i])
    content = tuple(c + (Fraction(1, 10**30) if k == i else 0) for k, c in enumerate(row.content))
    other = replace(problem, rows=(replace(row, content=content), *problem.rows[1:]))
    assert largest_of(other, value)[i] == without[i]


CHECK = ("format", "maxima", "column", "leaf", "verify")


@pytest.mark.parametrize("name", CHECK)
def test_the_check_imports_only_the_standard_library(name: str) -> None:
    path = Path(str(room.__file__)).with_name(f"{name}.py")
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        names += [str(node.module)] if isinstance(node, ast.ImportFrom) else []
        for module in names:
            own = module in {f"reaccord.certificate.{other}" for other in CHECK}
            assert own or module.split(".")[0] in sys.stdlib_module_names, f"{name} imports {module}"


def test_checking_loads_no_library_and_nothing_of_the_search(tmp_path: Path) -> None:
    path = tmp_path / "proof.json"
    path.write_text(write(of_example()), encoding="utf-8")
    code = (
        "import sys, pathlib\n"
        "from reaccord.certificate.format import read\n"
        "from reaccord.certificate.verify import verify\n"
        f"verify(read(pathlib.Path({str(path)!r}).read_text(encoding='utf-8')))\n"
        "loaded = {name for name in sys.modules if name.split('.')[0] in {'numpy', 'scipy', 'daqp', 'clarabel'}}\n"
        "loaded |= {name for name in sys.modules if name.startswith(('reaccord.solvers', 'reaccord.answer.fit'))}\n"
        "assert not loaded, loaded\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_inputs_are_recorded() -> None:
    assert {name for name, _ in of_example().inputs} >= {EXAMPLE.name, "bottles.csv", "compositions.csv", "target.csv"}
