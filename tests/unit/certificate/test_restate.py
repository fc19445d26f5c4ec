"""A study stated in fractions is the programme the solver gets, and the decimals of its tables exactly."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from tests.random_studies import draw
from tests.seeds import seeds
from tests.studies import study
from tests.unit.certificate.made import EXAMPLE, of_example

from reaccord.certificate.format import Problem, Refused
from reaccord.certificate.number import Exact, exactly, fraction
from reaccord.certificate.origin import check_origin
from reaccord.certificate.restate import restate
from reaccord.certificate.stated import check_same, problem_of, programme_of
from reaccord.domain.lines import Reported
from reaccord.findings import SolverFault
from reaccord.programme import state
from reaccord.study.load import load_study

EXAMPLES = sorted(EXAMPLE.parents[1].glob("*/*.toml"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_examples(path: str) -> None:
    read = load_study(path)
    check_same(restate(read), state(read))


@seeds(0, 10, 30)
def test_random_studies(seed: int) -> None:
    read = draw(seed).study()
    check_same(restate(read), state(read))


def test_another_programme_is_noticed() -> None:
    read = draw(3).study()
    exact, programme = restate(read), state(read)
    for name in ("content", "basis", "factor", "minimum"):
        array = getattr(programme, name).copy()
        at = np.unravel_index(np.argmax(np.abs(array)), array.shape)
        array[at] *= 1 + 1e-10
        with pytest.raises(SolverFault, match=name):
            check_same(exact, replace(programme, **{name: array}))


def row(problem: Problem, label: str) -> int:
    return next(k for k, found in enumerate(problem.rows) if found.label == label)


def test_decimals_stay_decimals() -> None:
    """By hand: linalool 30.3 and limonene 60.1 of 90.4; a bottle of 97.3 %, once at 10 %; weight 1.7."""
    problem = restate(
        study(
            target="constituent,G,weight\nlinalool,30.3,1.7\nlimonene,60.1,\n",
            bottles=(
                "material,constituent,purity,strength,carrier,lot\n"
                "Linalool,linalool,97.3,,,\n"
                "Linalool,linalool,97.3,10,dipropylene glycol,d\n"
                "Limonene,limonene,91.7,,,\n"
            ),
        )
    )
    linalool, limonene = problem.rows[row(problem, "linalool")], problem.rows[row(problem, "limonene")]
    assert linalool.low == linalool.high == Fraction(303, 904)
    assert limonene.low == Fraction(601, 904)
    assert linalool.factor_squared == Fraction(17, 10) ** 2 / Fraction(303, 904)
    assert set(linalool.content) == {Fraction(0), Fraction(973, 1000), Fraction(973, 10000)}
    assert set(limonene.content) == {Fraction(0), Fraction(917, 1000)}


def test_the_example_is_exact() -> None:
    problem, read = of_example().problem, load_study(EXAMPLE)
    assert check_origin(of_example(), read) == "exact"
    assert problem.batch == 10
    assert {limit.most for limit in problem.limits if limit.label == "carrier"} == {Fraction(15)}
    assert all(m.denominator <= 1000 for m in problem.minimum)
    assert all(c.denominator <= 10**9 for r in problem.rows for c in r.content)


def test_rounding_is_told_from_another_number() -> None:
    made, read = of_example(), load_study(EXAMPLE)
    for apart, ends in ((Fraction(1, 10**13), "to 1e-12"), (Fraction(1, 10**11), None)):
        first = made.problem.rows[0]
        size = max(first.content)
        content = tuple(c + size * apart if c == size else c for c in first.content)
        other = replace(
            made, problem=replace(made.problem, rows=(replace(first, content=content), *made.problem.rows[1:]))
        )
        if ends is None:
            with pytest.raises(Refused, match="another content"):
                check_origin(other, read)
        else:
            assert check_origin(other, read) == ends


def test_a_small_number_is_not_hidden_by_a_large_one() -> None:
    made, read = of_example(), load_study(EXAMPLE)
    ends = [m for m in made.problem.maximum if m is not None]
    maximum = [m and m * (1 + Fraction(1, 10**9) * (m == min(ends))) for m in made.problem.maximum]
    other = replace(made, problem=replace(made.problem, maximum=tuple(maximum)))
    with pytest.raises(Refused, match="another maximum"):
        check_origin(other, read)
    smallest = min(c for c in made.problem.rows[0].content if c)
    content = tuple(c + smallest / 10**9 if c == smallest else c for c in made.problem.rows[0].content)
    rows = (replace(made.problem.rows[0], content=content), *made.problem.rows[1:])
    with pytest.raises(Refused, match="another content"):
        check_origin(replace(made, problem=replace(made.problem, rows=rows)), read)


def test_exact_numbers_stay_exact_beside_floats() -> None:
    third = Exact(1, 3)
    for found, there in (
        (0.0 + third, Fraction(1, 3)),
        (1.0 - third, Fraction(2, 3)),
        (third * 0.1, Fraction(1, 30)),
        (0.1 * third, Fraction(1, 30)),
        (third / 0.1, Fraction(10, 3)),
        (1.0 / third, Fraction(3)),
        (-third, Fraction(-1, 3)),
        (sum([third, third, third]), Fraction(1)),
        (third - 0.1, Fraction(7, 30)),
    ):
        assert found == there
        assert isinstance(found, Exact)
    assert f"{third * 100:.4g}" == "33.33"
    assert fraction(0.1) == Fraction(1, 10)
    assert fraction(7) == 7


def test_records_are_taken_with_all_they_hold() -> None:
    found = exactly({"a": (Reported(0.1, "tr", most=0.3), 2, None, True, "x")})
    assert found["a"][0].number == Fraction(1, 10)
    assert found["a"][0].high == Fraction(3, 10)
    assert found["a"][1:] == (2, None, True, "x")


def test_fractions_and_floats_go_both_ways() -> None:
    programme = state(draw(1).study())
    back = programme_of(problem_of(programme))
    assert np.allclose(back.content, programme.content, rtol=1e-14, atol=0)
    assert np.array_equal(back.maximum, programme.maximum)
    assert math.isclose(back.value(programme.minimum), programme.value(programme.minimum), rel_tol=1e-12)
