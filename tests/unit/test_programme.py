"""Each limit's rows, written out by hand from their definitions."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from tests.tiny_study import CARRIER, GREEN, OIL, OIL_PARTS, RED, tiny

from reaccord.answer.limits_held import Pour, claims, quiet_claims
from reaccord.certificate.restate import restate
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.programme import LIMITS, ground_of, state

Golden = tuple[tuple[str, ...], str, list[float], list[float], float]
"""kind and subject, label, amounts, used, most; columns sorted by material."""

LOW_RED = {"material": "Red", "strength": "10", "carrier": "dipropylene glycol"}
BALANCE = {"readability_g": 0.01, "minimum_g": 0.02}


def cost() -> tuple[Study, list[Golden]]:
    study = tiny(limits={"cost_per_kg": 30})
    return study, [(("cost",), "cost", [0.02, -0.02], [0, 0], 0)]


def lines() -> tuple[Study, list[Golden]]:
    return tiny(limits={"lines": 1}), [(("lines",), "lines", [0, 0], [1, 1], 1)]


def carrier() -> tuple[Study, list[Golden]]:
    study = tiny([RED, GREEN | {"strength": "10", "carrier": "dipropylene glycol"}], batch={"carrier_max_g": 5})
    return study, [(("carrier",), "carrier", [0.9, 0.0], [0, 0], 5)]


def undeclared() -> tuple[Study, list[Golden]]:
    study = tiny([RED, GREEN | {"purity": "96"}], limits={"undeclared": "10 %"})
    return study, [(("undeclared",), "undeclared", [0.04 - 0.1 * 0.96, -0.1], [0, 0], 0)]


def restricted() -> tuple[Study, list[Golden]]:
    """2 % in the product; the oil's red counts with its high end, 70 %: for C that is 0.7 / 0.01."""
    study = tiny(
        [GREEN, OIL],
        compositions=OIL_PARTS,
        rules=[
            {"rule": "A", "members": "red", "max": "1"},
            {"rule": "B", "members": "red; green", "max": "1.5", "kind": "sum"},
            {"rule": "C", "members": "red", "max": "1", "kind": "ratio"},
            {"rule": "C", "members": "green", "max": "2", "kind": "ratio"},
            {"rule": "D", "members": "red", "max": "0.5", "kind": "prohibited"},
            {"rule": "E", "members": "Oil; green", "max": "1", "kind": "each"},
            {"rule": "F", "members": "red", "max": "0.1", "product": "candle"},
            {"rule": "G", "members": "red", "product": "any", "kind": "prohibited"},
        ],
    )
    none = [0.0, 0.0]
    return study, [
        (("restricted", "A", "each", "soap", "red"), "A: red", [-0.01, 0.02 * 0.7 - 0.01], none, 0),
        (("restricted", "B", "sum", "soap", "green", "red"), "B", [0.02 - 0.015, 0.02 * 1.1 - 0.015], none, 0),
        (("restricted", "C", "ratio", "", "green", "red"), "C", [0.02 / 0.02 - 1, 0.02 * (70 + 20) - 1], none, 0),
        (("restricted", "D", "prohibited", "soap", "red"), "D: red", [-0.005, 0.02 * 0.7 - 0.005], none, 0),
        (("restricted", "E", "each", "soap", "Oil"), "E: Oil", [-0.01, 0.02 - 0.01], none, 0),
        (("restricted", "E", "each", "soap", "green"), "E: green", [0.02 - 0.01, 0.02 * 0.4 - 0.01], none, 0),
        (("restricted", "G", "prohibited", "any", "red"), "G: red", [0.0, 0.02 * 0.7], none, 0),
    ]


def named_amounts() -> tuple[Study, list[Golden]]:
    """Grams of neat material: the tenth solution of Red counts a tenth; Red inside the oil does not count."""
    study = tiny(
        [RED, LOW_RED, GREEN, OIL],
        compositions=OIL_PARTS,
        limits={
            "amount": [
                {"material": "Red", "at_least_g": 1, "at_most_g": 2},
                {"material": "Green", "exactly_g": 0.5},
            ]
        },
    )
    none = [0.0] * 4
    return study, [
        (("amount at least", "Green"), "Green at least", [-1, 0, 0, 0], none, -0.5),
        (("amount at most", "Green"), "Green at most", [1, 0, 0, 0], none, 0.5),
        (("amount at least", "Red"), "Red at least", [0, 0, -0.1, -1], none, -1),
        (("amount at most", "Red"), "Red at most", [0, 0, 0.1, 1], none, 2),
    ]


def dilutions() -> tuple[Study, list[Golden]]:
    made = {"strengths": ["10 %"], "carrier": "dipropylene glycol", "most": 1}
    study = tiny([CARRIER, RED, GREEN], balance=BALANCE, dilutions=made)
    return study, [(("dilutions",), "dilutions made", [0] * 5, [0, 1, 0, 1, 0], 1)]


def on_hand() -> tuple[Study, list[Golden]]:
    """Columns: Carrier, Green made, Green, Red made, Red, then grams made of Green and of Red.

    The least that can be made: 0.02 g of material in 0.2 g. 20 g of carrier are there, and less Red than the batch.
    """
    study = tiny(
        [CARRIER | {"stock_g": "20"}, RED | {"stock_g": "9"}, GREEN],
        balance=BALANCE,
        dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol"},
    )
    green, red = (f"grams made of {name} 10 % in dipropylene glycol (made)" for name in ("Green", "Red"))
    made = ("0.1", "dipropylene glycol", "made")
    of_green, of_red, none = ("made", "Green", *made), ("made", "Red", *made), [0.0] * 7
    return study, [
        (of_green, green, [0, 1, 0, 0, 0, -1, 0], none, 0),
        (of_green, green, [0, 0, 0, 0, 0, -1, 0], [0, 0.2, 0, 0, 0, 0, 0], 0),
        (of_red, red, [0, 0, 0, 1, 0, 0, -1], none, 0),
        (of_red, red, [0, 0, 0, 0, 0, 0, -1], [0, 0, 0, 0.2, 0, 0, 0], 0),
        (("on hand", "Carrier", "1", "", ""), "Carrier: on hand", [1, 0, 0, 0, 0, 0.9, 0.9], none, 20),
        (("on hand", "Red", "1", "", ""), "Red: on hand", [0, 0, 0, 0, 1, 0, 0.1], none, 9),
    ]


GOLDENS: dict[str, Callable[[], tuple[Study, list[Golden]]]] = {
    made.__name__: made for made in (cost, lines, dilutions, carrier, undeclared, restricted, named_amounts, on_hand)
}


def test_every_limit_has_a_golden_programme() -> None:
    assert [limit.__name__ for limit in LIMITS] == list(GOLDENS)


@pytest.mark.parametrize("name", GOLDENS)
def test_rows_of_a_limit(name: str) -> None:
    study, goldens = GOLDENS[name]()
    rows = state(study).limits
    assert [((row.key.kind, *row.key.subject), row.label) for row in rows] == [golden[:2] for golden in goldens]
    for row, (_, _, amounts, used, most) in zip(rows, goldens, strict=True):
        assert row.amounts == pytest.approx(amounts, abs=1e-15)
        assert row.used == pytest.approx(used)
        assert row.most == pytest.approx(most)
        assert row.sentence


def keys_of(study: Study) -> set[LimitKey]:
    """Return the limits of a study, after checking that programme, judge and certificate are about the same.

    The judge looks at bottles one by one as well: what the arrays of a programme hold.
    """
    stated = {row.key for row in state(study).limits}
    restated = {LimitKey(row.kind, row.subject) for row in restate(study).limits}  # type: ignore[arg-type]
    assert restated == stated
    pours = tuple(Pour(stock, max(1.0, stock.minimum_g)) for stock in study.stocks)
    claimed = {claim.key for claim in (*claims(study, pours, 1.0), *quiet_claims(study, pours))}
    limits = {key for key in stated if key.kind != "made"}
    assert limits == {key for key in claimed if key.kind not in {"smallest", "strengths"}}
    return limits


@pytest.mark.parametrize("name", GOLDENS)
def test_every_limit_has_a_claim_of_the_judge_and_a_restatement_of_the_certificate(name: str) -> None:
    assert keys_of(GOLDENS[name]()[0])


def test_a_study_with_every_limit() -> None:
    study = tiny(
        [CARRIER | {"stock_g": "20"}, RED, GREEN],
        balance=BALANCE,
        dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol", "most": 1},
        batch={"carrier_max_g": 5},
        limits={
            "cost_per_kg": 30,
            "lines": 3,
            "undeclared": "10 %",
            "amount": [{"material": "Red", "at_least_g": 1, "at_most_g": 8}],
        },
        rules=[{"rule": "A", "members": "red; green", "max": "1", "kind": "each"}],
    )
    assert all(list(limit(study, ground_of(study))) for limit in LIMITS)
    kinds = {"cost", "lines", "dilutions", "carrier", "undeclared", "restricted", "amount at least", "amount at most"}
    kinds |= {"on hand"}
    assert {key.kind for key in keys_of(study)} == kinds


@pytest.mark.parametrize("name", GOLDENS)
def test_only_the_limits_asked_for_give_rows(name: str) -> None:
    study, _ = GOLDENS[name]()
    giving = [limit.__name__ for limit in LIMITS if list(limit(study, ground_of(study)))]
    assert giving == [name]


def test_no_limit_no_rows() -> None:
    assert state(tiny()).limits == ()


def test_sentences_say_the_limit() -> None:
    said = {name: [row.sentence for row in state(GOLDENS[name]()[0]).limits] for name in GOLDENS}
    assert said["cost"] == ["cost at most 30.00 per kg of accord"]
    assert said["lines"] == ["at most 1 line"]
    assert said["undeclared"] == ["undeclared mass at most 10 % of the accord"]
    assert "E: Oil at most 1 % in the product" in said["restricted"]
    assert said["named_amounts"] == [
        "Green exactly 0.5 g",
        "Green exactly 0.5 g",
        "Red at least 1 g",
        "Red at most 2 g",
    ]
    assert "Carrier: 20 g on hand, with all dilutions made" in said["on_hand"]


def test_arrays_of_a_programme() -> None:
    """Rows: green 40 %, red 60 %, foreign blue, undeclared; factors by the proportional scale."""
    study = tiny(
        [RED | {"purity": "80", "stock_g": "3.017"}, GREEN | {"minimum_g": "0.033", "step_g": "0.02"}],
        compositions=[{"material": "Red", "part": "blue", "share": "15"}],
        rows=[
            {"constituent": "red", "analysis": "54", "low": None, "high": None, "weight": "2"},
            {"constituent": "green", "analysis": "36", "low": "30", "high": "45", "weight": None},
        ],
        balance=BALANCE,
    )
    found = state(study)
    assert found.columns == ("Green", "Red")
    assert found.rows == ("green", "red", "blue", "undeclared")
    assert found.content == pytest.approx(np.array([[1, 0], [0, 0.8], [0, 0.15], [0, 0.05]]))
    assert found.low == pytest.approx([30 / 90, 0.6, 0, 0])
    assert found.high == pytest.approx([45 / 90, 0.6, 0, 0.1 / 0.9])
    assert found.factor == pytest.approx([0.4**-0.5, 2 * 0.6**-0.5, 0.05**-0.5, (0.1 / 0.9) ** -0.5])
    assert found.basis == pytest.approx([1, 0.8])
    assert (found.batch_g, found.measure) == (10, "squares")
    assert list(found.minimum) == [0.04, 0.02]
    assert list(found.maximum) == [math.inf, 3.01]
    assert list(found.step) == [0.02, 0.01]


def test_open_rest_counts_every_declared_odorant() -> None:
    """Nothing is divided; what the table leaves out is one row, its band up to 1 less the lows."""
    rows = [{"constituent": "red", "low": "40", "high": "60"}, {"constituent": "green", "low": "30", "high": "40"}]
    study = tiny(
        [RED | {"purity": "80"}, GREEN],
        compositions=[{"material": "Red", "part": "blue", "share": "15"}],
        rows=rows,
        target={"rest": "open"},
    )
    found = state(study)
    assert found.rows == ("green", "red", "all other constituents", "undeclared")
    assert found.basis == pytest.approx([1, 0.95])
    assert found.content[2] == pytest.approx([0, 0.15])
    assert found.low == pytest.approx([0.3, 0.4, 0, 0])
    assert found.high[:3] == pytest.approx([0.4, 0.6, 0.3])


def test_the_bottle_or_one_dilution_of_it_is_poured_and_bottles_of_other_strengths_are_free() -> None:
    made = {"strengths": ["1 %", "0.1 %"], "carrier": "dipropylene glycol"}
    study = tiny([CARRIER, RED | {"lot": "1"}, LOW_RED], balance=BALANCE, dilutions=made)
    red = "Red{} in dipropylene glycol{}"
    columns = (*(red.format(f" {s} %", m) for s, m in (("0.1", " (made)"), ("1", " (made)"), ("10", ""))), "Red (1)")
    assert state(study).columns == ("Carrier", *columns)
    assert state(study).strengths == (((1,), (2,), (4,)),)


def test_a_dilution_is_for_what_the_next_stronger_stock_is_too_strong_to_weigh() -> None:
    """The least of Red is 0.02 g, which 0.2 g of a tenth solution hold; of that, 0.02 g are 0.2 g of the hundredth."""
    made = {"strengths": ["10 %", "1 %"], "carrier": "dipropylene glycol"}
    found = state(tiny([CARRIER, RED], balance=BALANCE, dilutions=made))
    assert list(found.maximum) == pytest.approx([math.inf, 0.2, 0.2, math.inf])
    found = state(tiny([CARRIER, RED], dilutions=made))  # no balance, nothing too small
    assert list(found.maximum) == [math.inf, 0, 0, math.inf]


def test_helper_columns_are_the_grams_made() -> None:
    study, _ = on_hand()
    found = state(study)
    assert [made[:2] for made in found.made] == [(1, 5), (3, 6)]
    assert [made.least_g for made in found.made] == pytest.approx([0.2, 0.2])
    assert list(np.flatnonzero(found.helpers)) == [5, 6]
    assert list(found.step) == [0.01] * 5 + [0.0] * 2
    assert found.columns[5:] == tuple(f"made: {name} 10 % in dipropylene glycol (made)" for name in ("Green", "Red"))
    assert not state(tiny()).helpers.any()
