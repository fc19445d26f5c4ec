"""Highest dosage against published figures on furocoumarins: single figures, quoted with where they were read.

The association of the fragrance industry limits bergapten (5-methoxypsoralen) on skin exposed to sunlight to 15 ppm,
0.0015 % of the finished product. Read at bioassoberg.com (on the policy of October 1978): 75 ppm in a compound that
is 20 % of the product, and, at 0.35 % of bergapten in the cold-pressed oil, 2 % of the oil in the compound. 0.4 % as
the most of that oil in what stays on is from a page on oil safety of February 2010. What the standard says today was
not checked.
"""

from __future__ import annotations

import pandas as pd
import pytest

from reaccord.domain.stock import StockKey
from reaccord.safety.dosage import Dosage, dosage
from reaccord.study.load import study_from_frames

MOST, IN_THE_OIL = "0.0015", "0.35"
TEXT = """
title = "furocoumarins"
[target]
table = "target"
[shelf]
bottles = "bottles"
compositions = "compositions"
[batch]
accord_g = 10
[limits]
table = "limits"
product = "leave-on"
dosage = "1 %"
"""


def found(limits: list[dict[str, str]], **grams: float) -> Dosage:
    frames = {
        "target": pd.DataFrame({"constituent": ["limonene", "linalool"], "share": ["60", "40"]}),
        "bottles": pd.DataFrame(
            [
                {"material": "Peel oil"},
                {"material": "Other peel oil"},
                {"material": "Linalool", "constituent": "linalool", "purity": "100"},
            ]
        ),
        "compositions": pd.DataFrame(
            [
                {"material": "Peel oil", "part": "limonene", "share": "99.65"},
                {"material": "Peel oil", "part": "bergapten", "share": IN_THE_OIL},
                {"material": "Other peel oil", "part": "limonene", "share": "99.95"},
                {"material": "Other peel oil", "part": "bergapten", "share": "0.05"},
            ]
        ),
        "limits": pd.DataFrame([{"product": "leave-on", **limit} for limit in limits]),
    }
    names = {"peel": "Peel oil", "other": "Other peel oil", "linalool": "Linalool"}
    amounts = {StockKey(names[name], 1.0, "", ""): gram for name, gram in grams.items()}
    return dosage(study_from_frames(TEXT, frames), amounts)


BERGAPTEN = [{"rule": "Bergapten", "members": "bergapten", "max": MOST, "kind": "each"}]


def test_the_oil_alone_may_be_four_tenths_of_a_percent_of_what_stays_on() -> None:
    safety = found(BERGAPTEN, peel=5.0)
    (highest,) = safety.highest
    assert safety.masses.concentrate(highest.accord) == pytest.approx(0.0015 / 0.35, rel=1e-9)
    assert round(100 * safety.masses.concentrate(highest.accord), 1) == 0.4


def test_a_fifth_of_the_product_may_be_a_compound_with_two_percent_of_the_oil() -> None:
    """2.14 g of oil in 100 g of compound: 75 ppm of bergapten in it, and the compound may be 20 % of the product."""
    safety = found(BERGAPTEN, peel=2.142857142857143, linalool=97.85714285714286)
    (highest,) = safety.highest
    assert safety.masses.concentrate(highest.accord) == pytest.approx(0.20, rel=1e-9)
    assert round(2.142857142857143) == 2


def test_several_oils_share_the_marker() -> None:
    """Each oil alone could be dosed higher; together their marker adds up to the same 0.0015 %."""
    both = found(BERGAPTEN, peel=1.0, other=1.0)
    whole = both.masses.concentrate(both.highest[0].accord)
    assert whole / 2 * 0.0035 + whole / 2 * 0.0005 == pytest.approx(0.000015, rel=1e-9)
    shares = [total.share for total in both.totals]
    assert sum(source.share for source in both.totals[0].sources) == pytest.approx(shares[0])


def test_the_sum_over_phototoxic_oils_is_the_same_rule_as_the_marker_in_them() -> None:
    """Each oil limited to what holds 0.0015 % of the marker, shares of these limits added up: as the marker itself."""
    each = [("Peel oil", 0.0015 / 0.0035), ("Other peel oil", 0.0015 / 0.0005)]
    rows = [{"rule": "Oils", "members": oil, "max": repr(most), "kind": "ratio"} for oil, most in each]
    for grams in ({"peel": 1.0, "other": 1.0}, {"peel": 0.2, "other": 3.0, "linalool": 1.0}, {"peel": 2.0}):
        marker, oils = found(BERGAPTEN, **grams).highest[0], found(rows, **grams).highest[0]
        assert oils.accord == pytest.approx(marker.accord, rel=1e-9)
        assert oils.rule == "Oils"
