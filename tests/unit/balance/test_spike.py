"""The arithmetic of a spike, and codes."""

from __future__ import annotations

import pytest

from reaccord.balance.codes import seed_of, three_digit_codes
from reaccord.balance.spike import Portion, solvent_for, spike_grams


@pytest.mark.parametrize("share", [0.02, 0.1, 0.4])
@pytest.mark.parametrize("stock", [Portion(1.0, 1.0), Portion(0.1, 0.1), Portion(0.5, 0.9), Portion(0.5, 0.0)])
def test_the_share_is_reached(stock: Portion, share: float) -> None:
    base = Portion(0.05, 5.0)
    grams = spike_grams(base, stock, share)
    assert grams is not None
    assert base.plus(stock.times(grams)).share == pytest.approx(share)


def test_a_stock_no_richer_never_gets_there() -> None:
    assert spike_grams(Portion(0.05, 5.0), Portion(0.1, 1.0), 0.1) is None
    assert spike_grams(Portion(0.05, 5.0), Portion(0.1, 1.0), 0.2) is None


def test_all_vials_come_to_one_concentration() -> None:
    vials = {"a": (3.0, 2.7), "b": (3.5, 2.8), "c": (3.2, 2.75)}
    added = solvent_for(vials, 0.02, 0.0)
    shares = [active / (gram + added[name]) for name, (gram, active) in vials.items()]
    assert shares == pytest.approx([shares[0]] * 3)
    assert min(added.values()) == pytest.approx(0.02)
    assert solvent_for({"a": (3.0, 2.7), "b": (2.0, 1.8)}, 0.02, 0.001) == {"a": 0.0, "b": 0.0}
    assert solvent_for({}, 0.02, 0.001) == {}


def test_codes() -> None:
    assert three_digit_codes(900, 1) != sorted(three_digit_codes(900, 1))
    assert len(set(three_digit_codes(900, 1))) == 900
    assert three_digit_codes(5, seed_of("a")) == three_digit_codes(5, seed_of("a"))
    assert three_digit_codes(5, seed_of("a")) != three_digit_codes(5, seed_of("b"))
    assert "123" not in three_digit_codes(899, 1, taken=[123])
    with pytest.raises(ValueError, match="only 899"):
        three_digit_codes(900, 1, taken=[123])
