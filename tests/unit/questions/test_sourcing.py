"""Which bottles to buy next, on studies small enough to know the answer."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from tests.random_studies import draw
from tests.seeds import seeds
from tests.studies import study

from reaccord.answer.fit import fit
from reaccord.contract import Budget
from reaccord.domain.lines import BottleLine, Pack
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula, Place
from reaccord.questions.sourced import Ranked, Sourcing
from reaccord.questions.sourcing import sourcing
from reaccord.study.changed import with_bottle
from reaccord.study.offered import Offered, offered

TARGET = "constituent,G1\ngeraniol,50\ncitronellol,30\nlinalool,15\nnerol,5"


def offers_of(packs: list[Pack] | None = None, **tables: Any) -> Offered:
    return offered(study(target=TARGET, **tables), packs or [])


def pack(material: str, **more: Any) -> Pack:
    grams, price = more.pop("grams", None), more.pop("price", None)
    return Pack(BottleLine(Place("catalogue.csv", 2), material, **more), grams, price)


def test_what_no_bottle_brings_is_offered_pure_and_the_larger_share_helps_more() -> None:
    found = sourcing(offers_of())
    assert [one.offer.label for one in found.ranked] == ["linalool", "nerol"]
    # shares 80 % on the shelf: chi-square of the rest is (1 - s) / s, each purchase adds its share to s
    assert found.now is not None
    assert found.now.value == pytest.approx(0.2 / 0.8, rel=1e-6)
    first, second = (one.poured for one in found.ranked)
    assert first is not None
    assert second is not None
    assert first.value == pytest.approx(0.05 / 0.95, rel=1e-6)
    assert second.value == pytest.approx(0.15 / 0.85, rel=1e-6)
    assert [[o.label for o in one.offers] for one in found.best] == [["linalool"], ["linalool", "nerol"]]
    assert found.best[-1].poured.value == pytest.approx(0.0, abs=1e-9)
    assert found.status == "proven"


def test_what_a_bottle_holds_nearly_pure_or_a_catalogue_has_is_not_offered_again() -> None:
    bottles = "material,constituent,purity\nGeraniol,geraniol,100\nCitronellol,citronellol,80\nNerol,nerol,79"
    made = offers_of([pack("Lin", constituent="linalool", purity=0.97)], bottles=bottles)
    assert [offer.label for offer in made.offers] == ["Lin", "nerol (pure)"]


def test_a_bottle_used_up_can_be_bought_again_and_one_left_out_on_purpose_cannot() -> None:
    bottles = "material,constituent,purity,stock_g\nGeraniol,geraniol,100,\nLin,linalool,97,0\nNer,nerol,97,"
    made = offers_of(bottles=bottles, settings={"limits": {"exclude": ["Ner"]}})
    assert [offer.label for offer in made.offers] == ["citronellol", "linalool"]
    aside = offers_of([pack("Ner", price=3.0)], bottles=bottles, settings={"limits": {"exclude": ["Ner"]}})
    assert {offer.label: offer.aside for offer in aside.offers}["Ner"] == "excluded"
    assert "Ner" not in [one.offer.label for one in sourcing(aside).ranked]


def test_of_several_packs_the_one_that_costs_least_counts() -> None:
    packs = [pack("Lin", constituent="linalool", purity=0.97, grams=g, price=p) for g, p in ((100, 30.0), (10, 5.0))]
    (lin,) = (offer for offer in offers_of(packs).offers if offer.label == "Lin")
    assert (lin.pack_g, lin.price) == (10, 5.0)


def test_a_lot_that_stands_on_the_shelf_is_told_apart() -> None:
    bottles = "material,constituent,purity,lot,stock_g\nGeraniol,geraniol,100,A,1\nCitronellol,citronellol,100,,"
    made = offers_of([pack("Geraniol", lot="A"), pack("Citronellol")], bottles=bottles)
    assert {offer.key.lot for offer in made.offers} == {"A, to buy", "to buy"}
    best = sourcing(made).ranked[0]
    assert best.offer.key.material == "linalool" or best.offer.key.lot == "A, to buy"


def test_a_purchase_can_make_a_formula_possible() -> None:
    bottles = "material,constituent,purity,stock_g\nGeraniol,geraniol,100,1"
    made = offered(study(target="constituent,G1\ngeraniol,50\nlinalool,50", bottles=bottles))
    found = sourcing(made)
    assert found.now is None
    assert [one.offer.label for one in found.ranked if one.poured] == ["linalool"]


def test_without_any_formula_the_limits_in_conflict_are_named() -> None:
    bottles = "material,constituent,purity,stock_g\nGeraniol,geraniol,100,1"
    made = offered(study(target="constituent,G1\ngeraniol,100", bottles=bottles))
    with pytest.raises(NoFormula):
        sourcing(made)


def test_a_catalogue_without_a_price_is_asked_where_cost_is_limited() -> None:
    bottles = "material,constituent,purity,price_per_kg\nGeraniol,geraniol,100,50"
    with pytest.raises(InvalidInput, match="what does Lin cost per kg"):
        offers_of(
            [pack("Lin", constituent="linalool", purity=0.97)],
            bottles=bottles,
            settings={"limits": {"cost_per_kg": 60}},
        )


GAP, SAME = 1e-6, 1e-5
"""Asked for; relative, within which two searches of one study agree."""
FEW = 3


@seeds(0, 3, 12, 60)
def test_the_ranking_is_that_of_solving_each_again(seed: int) -> None:
    made = drawn(seed)
    if made is None:
        return
    found = found_for(made)
    if found is None:
        return
    values = {one.offer: again(made, one) for one in found.ranked}
    now = np.inf if found.now is None else found.now.value
    order = sorted(values.values())
    listed = [one for one in found.ranked if one.poured is not None]
    assert [one.poured.value for one in listed if one.poured] == pytest.approx(order[: len(listed)], rel=SAME, abs=1e-9)
    for one in found.ranked:
        if one.poured is not None:
            assert one.poured.value == pytest.approx(values[one.offer], rel=SAME, abs=1e-9)
            continue
        assert values[one.offer] >= one.bound * (1 - SAME) - 1e-9
        worth = min(now, order[FEW - 1] if len(order) >= FEW else np.inf)
        assert values[one.offer] >= worth * (1 - SAME) - 1e-9


def drawn(seed: int) -> Offered | None:
    """Return a drawn study with a drawn catalogue; None where it cannot be read."""
    draft = draw(seed)
    rng = np.random.default_rng((5, seed))
    names = sorted({row["part"] for row in draft.tables.get("compositions.csv", []) if row["part"].startswith("const")})
    packs = [
        pack(f"Offer {k}", constituent=str(name), purity=float(rng.uniform(0.5, 1)), price_per_kg=float(price))
        for k, (name, price) in enumerate(zip(rng.permutation(names)[:6], rng.lognormal(4, 1, 6), strict=False))
    ]
    packs = [Pack(BottleLine(**{**p.bottle._asdict(), "at": Place("c.csv", k + 2)})) for k, p in enumerate(packs)]
    try:
        return offered(draft.study(), packs)
    except InvalidInput:
        return None


def found_for(made: Offered) -> Sourcing | None:
    try:
        return sourcing(made, 1, Budget(GAP), listed=FEW)
    except NoFormula:
        return None


def again(made: Offered, one: Ranked) -> float:
    """Return the closest formula's deviation with one bottle more, from a study made anew; infinite without any."""
    stock = made.study.stock(one.offer.key)
    assert stock is not None
    with_it: Study = with_bottle(made.shelf, stock)
    try:
        return fit(with_it, Budget(GAP), shorten=False).judged_before.closeness.value
    except NoFormula:
        return np.inf
    except NoAnswer:  # a formula that no balance can weigh
        from reaccord.programme import state
        from reaccord.solvers.choose import solve

        return solve(state(with_it), Budget(GAP)).value


def test_where_nothing_helps_that_is_decided_and_nothing_is_bought() -> None:
    found = sourcing(offers_of(settings={"limits": {"lines": 2}}))
    assert [one.poured for one in found.ranked] == [None, None]
    assert (found.status, found.skipped, found.best) == ("proven", 2, ())


@pytest.mark.parametrize("lines", [3, 9])
def test_a_purchase_that_brings_nothing_more_is_not_listed(lines: int) -> None:
    target = "constituent,G1\ngeraniol,50\ncitronellol,30\nlinalool,14\nnerol,5\nlimonene,1"
    packs = [pack("Lin oil", constituent="linalool", purity=0.9), pack("Ger 2", constituent="geraniol", purity=0.9)]
    found = sourcing(offered(study(target=target, settings={"limits": {"lines": lines}}), packs), 4)
    names = [sorted(offer.label for offer in one.offers) for one in found.best]
    assert [one.count for one in found.best] == list(range(1, len(names) + 1))
    assert [len(one) for one in names] == [one.count for one in found.best]
    values = [one.poured.value for one in found.best]
    assert all(after < before * (1 - found.gap) for before, after in pairwise(values))
    assert len(names) == min(lines - 2, 3), "geraniol is on the shelf: another bottle of it brings nothing"
    assert all("Ger 2" not in one for one in names)
    assert found.status == "proven"


def test_offers_that_help_alike_are_all_listed_by_name() -> None:
    target = "constituent,G1\ngeraniol,60\nlinalool,10\nnerol,10\nlimonene,10\nbeta-pinene,10"
    found = sourcing(offered(study(target=target), []), 2, listed=2)
    assert [one.offer.label for one in found.ranked] == ["beta-pinene", "limonene", "linalool", "nerol"]
    assert all(one.poured and one.poured.status == "proven" for one in found.ranked)
    assert found.status == "proven"


def test_what_time_did_not_suffice_for_is_not_called_decided() -> None:
    found = sourcing(offers_of(), budget=Budget(stop=lambda: True))
    assert found.status == "feasible"
    assert [one.poured for one in found.ranked] == [None, None]
    assert found.skipped == 0
    assert found.best == ()
