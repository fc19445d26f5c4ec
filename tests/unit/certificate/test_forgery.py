"""No altered certificate is accepted for a claim that its numbers do not prove."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from tests.seeds import drawn, seeds
from tests.unit.certificate.made import of_example, of_realistic, of_small

from reaccord.certificate.format import Refused, read, write
from reaccord.certificate.stated import programme_of
from reaccord.certificate.verify import gap_of, verify
from reaccord.contract import Budget
from reaccord.solvers.exact import solve

Data = dict[str, Any]


def data_of(which: str) -> Data:
    made = {"example": of_example, "lines": lambda: of_realistic(9, ()), "all": lambda: of_realistic(9, (0.1, 0.01))}
    found: Data = json.loads(write(made[which]()))
    return found


def refused(data: Data | str, words: str = ".") -> None:
    text = data if isinstance(data, str) else json.dumps(data)
    with pytest.raises(Refused, match=words):
        verify(read(text))


def claim(data: Data, value: Fraction, bound: Fraction) -> None:
    data["claim"] |= {"value": str(value), "bound": str(bound), "gap": str(gap_of(value, bound))}


@pytest.mark.parametrize("which", ["example", "lines", "all"])
@pytest.mark.parametrize("part", drawn(1e-9, 0.1, 0.999))
def test_a_raised_bound(which: str, part: float) -> None:
    """Raised by a part of what the tree leaves to the value; the tree proves little more than is claimed."""
    data = data_of(which)
    value, bound = Fraction(data["claim"]["value"]), Fraction(data["claim"]["bound"])
    claim(data, value, bound + (value - bound) * Fraction(part))
    refused(data, "bound claimed")


def test_a_bound_raised_and_the_gap_left() -> None:
    data = data_of("example")
    data["claim"]["bound"] = data["claim"]["value"]
    refused(data, "do not belong together")


def test_another_value() -> None:
    for times in ("1.000001", "0.999999", "0", "-1"):
        data = data_of("lines")
        value = Fraction(data["claim"]["value"]) * Fraction(times)
        claim(data, value, min(value, Fraction(data["claim"]["bound"])))
        refused(data, "deviates by|misses|together")


def drop_leaf(data: Data) -> None:
    node = next(node for node in data["tree"] if node.get("off") is not None)
    node["off"] = None


def drop_strength(data: Data) -> None:
    next(node for node in data["tree"] if "material" in node)["only"].pop()


def cut_tree(data: Data) -> None:
    data["tree"].pop()


def leaf_twice(data: Data) -> None:
    node = next(node for node in data["tree"] if node.get("off") is not None and node["on"] is not None)
    node["off"] = node["on"]


def back_to_the_root(data: Data) -> None:
    next(node for node in data["tree"][1:] if "column" in node)["on"] = 0


def idle_node(data: Data) -> None:
    data["tree"].append({"leaf": 0})


def empty_tree(data: Data) -> None:
    data["tree"] = []


def branch_again(data: Data) -> None:
    """The column of the root's branching once more below it."""
    first, second = [node for node in data["tree"] if "column" in node][:2]
    second["column"] = first["column"]


def two_ways_the_same(data: Data) -> None:
    node = next(node for node in data["tree"] if "column" in node)
    node["off"], node["on"] = node["on"], node["off"]
    data["tree"] = [data["tree"][0], *data["tree"][1:]]


def missing_duals(data: Data) -> None:
    data["duals"].pop()


def level_below_zero(data: Data) -> None:
    for duals in data["duals"]:
        duals["levels"][0] = "-1/1000000000"


def level_far_off(data: Data) -> None:
    for duals in data["duals"]:
        duals["levels"][0] = "3/2"


def level_of_a_band_far_off(data: Data) -> None:
    for duals in data["duals"]:
        duals["levels"][-1] = "1"


def negative_multiplier(data: Data) -> None:
    for duals in data["duals"]:
        duals["limits"][0] = "-1/1000"


def short_levels(data: Data) -> None:
    data["duals"][0]["levels"].pop()


def no_such_column(data: Data) -> None:
    next(node for node in data["tree"] if "column" in node)["column"] = len(data["programme"]["columns"])


def column_from_behind(data: Data) -> None:
    next(node for node in data["tree"] if "column" in node)["column"] = -1


def true_for_one(data: Data) -> None:
    next(node for node in data["tree"] if "column" in node)["column"] = True


def swapped_labels(data: Data) -> None:
    used = next(i for i, column in enumerate(data["programme"]["columns"]) if column["label"] in data["formula"])
    one, other = data["programme"]["columns"][used], data["programme"]["columns"][used - 1]
    one["label"], other["label"] = other["label"], one["label"]


def unknown_stock(data: Data) -> None:
    data["formula"]["nothing of the kind"] = "1"


def more_of_one(data: Data) -> None:
    name = min(data["formula"])
    data["formula"][name] = str(Fraction(data["formula"][name]) * Fraction(1001, 1000))


def less_than_weighable(data: Data) -> None:
    free = next(c for c in data["programme"]["columns"] if c["label"] not in data["formula"])
    data["formula"][free["label"]] = str(Fraction(free["minimum"]) / 10**6)


def negative_amount(data: Data) -> None:
    free = next(c["label"] for c in data["programme"]["columns"] if c["label"] not in data["formula"])
    data["formula"][free] = "-1/10"


def two_strengths(data: Data) -> None:
    used = [i for i, c in enumerate(data["programme"]["columns"]) if c["label"] in data["formula"]]
    data["programme"]["strengths"] = [[[used[0]], [used[1]]]]


def strengths_that_overlap(data: Data) -> None:
    data["programme"]["strengths"] = [[[0], [1]], [[1], [2]]]


def admits_too_much(data: Data) -> None:
    data["claim"]["excess"] = "1/1000"


def negative_excess(data: Data) -> None:
    data["claim"]["excess"] = "-1"


def no_batch(data: Data) -> None:
    data["programme"]["batch_g"] = "0"


def negative_minimum(data: Data) -> None:
    data["programme"]["columns"][0]["minimum"] = "-1"


def upside_down(data: Data) -> None:
    data["programme"]["rows"][0]["low"] = "2"


def negative_factor(data: Data) -> None:
    data["programme"]["rows"][0]["factor_squared"] = "-1"


FORGERIES = [
    drop_leaf,
    cut_tree,
    leaf_twice,
    back_to_the_root,
    idle_node,
    empty_tree,
    branch_again,
    two_ways_the_same,
    missing_duals,
    level_below_zero,
    level_far_off,
    level_of_a_band_far_off,
    negative_multiplier,
    short_levels,
    no_such_column,
    column_from_behind,
    true_for_one,
    swapped_labels,
    unknown_stock,
    more_of_one,
    less_than_weighable,
    negative_amount,
    two_strengths,
    strengths_that_overlap,
    admits_too_much,
    negative_excess,
    no_batch,
    negative_minimum,
    upside_down,
    negative_factor,
]


@pytest.mark.parametrize("forgery", FORGERIES, ids=lambda forgery: forgery.__name__)
def test_forgeries_are_refused(forgery: Callable[[Data], None]) -> None:
    data = data_of("lines")
    forgery(data)
    refused(data)


def test_a_strength_left_out() -> None:
    data = data_of("all")
    drop_strength(data)
    refused(data, "every strength")


def test_one_of_two_fixings_taken_the_other_way() -> None:
    """A column fixed without proof: the leaf of its other choice does not reach the claim."""
    data = data_of("lines")
    wrong = 0
    for node in data["tree"]:
        for pair in node.get("fixed", ()):
            altered = copy.deepcopy(data)
            at = data["tree"].index(node)
            for other in altered["tree"][at]["fixed"]:
                if other == pair:
                    other[1] = "on" if other[1] == "off" else "off"
            try:
                verify(read(json.dumps(altered)))
            except Refused:
                wrong += 1
            else:
                pytest.fail("fixed the wrong way and accepted")
        if wrong > 5:
            break
    assert wrong


@pytest.mark.parametrize(
    "text",
    ["", "null", "[]", "{}", '{"schema": 1}', "[" * 100_000, "NaN", '"\\ud800"', "1" * 10_000, "\x00", '{"a":1,"a":1}'],
)
def test_what_is_no_certificate(text: str) -> None:
    refused(text)


def test_cut_anywhere() -> None:
    text = write(of_realistic(9, ()))
    for end in range(0, len(text) - 2, len(text) // 200):
        refused(text[:end])


NUMBERS = ("1e999999999", "0.1", " 1", "+1", "1/0", "1/-2", "inf", "nan", "", "1_0", "٣", "0x10", "1" * 5000, "1//2")


@pytest.mark.parametrize("number", [*NUMBERS, 1, 1.5, None, True, [], {}])
@pytest.mark.parametrize("where", ["claim", "duals", "formula", "content"])
def test_what_is_no_fraction(number: Any, where: str) -> None:
    data = data_of("lines")
    if where == "claim":
        data["claim"]["bound"] = number
    elif where == "duals":
        data["duals"][0]["mu"] = number
    elif where == "formula":
        data["formula"][min(data["formula"])] = number
    else:
        data["programme"]["rows"][0]["content"][0] = number
    refused(data)


def test_numbers_out_of_all_measure_are_refused_without_a_traceback() -> None:
    huge = "9" * 3000
    for part, name in (("claim", "value"), ("claim", "bound"), ("claim", "excess")):
        data = data_of("lines")
        data[part][name] = huge
        refused(data)
    data = data_of("lines")
    for duals in data["duals"]:
        duals["mu"] = huge
    refused(data, "bound claimed")


def places(data: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the way to every number and name in a certificate."""
    inside = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in inside:
        yield from places(value, (*path, key))
    if not isinstance(data, dict | list):
        yield path


def altered(data: Data, rng: np.random.Generator) -> Data:
    """Return the certificate with one number, name or node changed at random."""
    found = copy.deepcopy(data)
    every = [path for path in places(found) if path[0] != "study" and path[0] != "schema"]
    path = every[int(rng.integers(len(every)))]
    holder = found
    for key in path[:-1]:
        holder = holder[key]
    value = holder[path[-1]]
    if isinstance(value, str) and value.lstrip("-").replace("/", "").isdigit():
        times = Fraction(float(rng.choice([0.0, -1.0, 0.5, 0.999, 1.001, 2.0, 1000.0])))
        holder[path[-1]] = str(Fraction(value) * times + (Fraction(1, 100) if value == "0" else 0))
    elif isinstance(value, int):
        holder[path[-1]] = int(rng.integers(-1, 12))
    elif value is None:
        holder[path[-1]] = str(int(rng.integers(1, 30))) if "maximum" in path else 0
    else:
        holder[path[-1]] = {"off": "on", "on": "off"}.get(value, value + "?")
    return found


@seeds(0, 4, 12)
def test_altered_at_random_it_is_refused_or_true(seed: int) -> None:
    """What is accepted must hold for the programme that then stands in the file, by the search's own answer."""
    made = of_small(seed)
    if made is None:
        return
    data, rng = json.loads(write(made)), np.random.default_rng(seed)
    for _ in range(60):
        text = json.dumps(altered(data, rng))
        try:
            certificate = read(text)
            verify(certificate)
        except Refused:
            continue
        if certificate.problem == made.problem:
            assert certificate.claim.bound <= made.claim.value
            continue
        programme = programme_of(certificate.problem)
        if (programme.content < 0).any() or (programme.basis < 0).any():
            continue  # no programme that the search takes
        answer = solve(programme, Budget(gap=1e-6))
        assert float(certificate.claim.bound) <= answer.value * (1 + 1e-7) + 1e-9
