"""Drawn studies: what a reason names is moved, the study solved again, and that row changes as the reason says."""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import get_args

from tests.random_studies import draw
from tests.seeds import seeds

from reaccord.answer.fit import Fit, fit
from reaccord.answer.judge import Judgement, Residual, judge
from reaccord.answer.why.reason import POINTS, Code, Reason
from reaccord.answer.why.traded import TIMES
from reaccord.contract import Budget
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import Content, Stock, StockKey
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.study import changed

FINE = Budget(gap=1e-4)
PART = 0.5
"""Another formula within the gap may lie elsewhere: at least so much of the gain must be there,"""
LEAST = 0.1
"""and where nothing was proven, so much."""


def row_of(judged: Judgement, label: str) -> Residual:
    return next(one for one in judged.residuals if one.row.label == label)


def without(study: Study, key: LimitKey) -> Study:
    """Return the study without a limit."""
    if key.kind in {"cost", "lines", "undeclared"}:
        return changed.with_keys(study, "limits", **{{"cost": "cost_per_kg"}.get(key.kind, key.kind): None})
    if key.kind == "carrier":
        return changed.with_keys(study, "batch", carrier_max_g=None)
    if key.kind == "dilutions":
        return changed.with_keys(study, "dilutions", most=None)
    if key.kind == "restricted":
        return changed.with_rule(study, key, None)
    amount = next(one for one in study.amounts if one.material == key.subject[0])
    least, most = amount.least_g or None, None if math.isinf(amount.most_g) else amount.most_g
    half = {"at_most_g": most} if key.kind == "amount at least" else {"at_least_g": least}
    return changed.with_amount(study, amount.material, **half)


def with_more(study: Study, material: str) -> Iterator[Study]:
    """Yield the studies in which one of a material's bottles never ends."""
    for bottle in study.settled.bottles:
        if bottle.key.material == material:
            yield changed.with_bottle_cells(study, bottle.key, stock_g=None)


def with_stocks(study: Study, stocks: Iterable[Stock]) -> Study:
    return replace(study, stocks=tuple(sorted(stocks, key=lambda stock: stock.key)))


def freed(study: Study, label: str) -> Iterator[Study]:
    """Yield the studies with each weaker bottle of a stock, with larger batches, and with no least of its material."""
    stock = next(stock for stock in study.stocks if stock.label == label)
    typical, high, materials = stock.content.typical, stock.content.high, stock.content.materials
    for part in (0.1, 0.01, 0.001):
        weaker = ({name: part * share for name, share in each.items()} for each in (typical, high, materials))
        weak = replace(
            stock,
            key=stock.key._replace(strength=stock.key.strength * part, lot="weak"),
            content=Content(*weaker, part * stock.content.undeclared),
            odorant=stock.odorant * part,
            active=stock.active * part,
            price_per_g=None if stock.price_per_g is None else part * stock.price_per_g,
            maximum_g=stock.maximum_g / part,
            recipe=None,
        )
        yield with_stocks(study, (*study.stocks, weak))
    for times in (2, 5, 10, 20, 50):
        with contextlib.suppress(InvalidInput):
            yield changed.with_keys(study, "batch", accord_g=times * study.settings.batch.accord_g)
    same = (stock.key.material == one.key.material for one in study.stocks)
    yield with_stocks(study, (replace(s, minimum_g=0.0) if m else s for s, m in zip(study.stocks, same, strict=True)))


def whole(found: Fit) -> Study:
    """Return the study with all that no bottle holds, pure, for nothing; what it counts in is left as it is."""
    held = {name for stock in found.study.stocks for name in stock.content.typical}
    rows = [r.row for r in found.judged.residuals if r.kind == "named" and not r.row.members & held]
    none = [StockKey(f"all of {min(row.members)}", 1.0, "", "") for row in rows]
    contents = [Content({min(row.members): 1.0}, {min(row.members): 1.0}, {}, 0.0) for row in rows]
    new = [Stock(key, content, 1.0, 1.0, 0.0) for key, content in zip(none, contents, strict=True)]
    study = with_stocks(found.study, (*found.study.stocks, *new))
    limits = study.settings.limits
    more = None if limits.lines is None else limits.lines + len(new)
    return replace(study, settings=replace(study.settings, limits=replace(limits, lines=more)))


def counting_more(study: Study, label: str) -> Iterator[Study]:
    """Yield the studies in which a row counts for more and more."""
    weight = next(entry.weight for entry in study.settled.target if entry.label == label)
    for times in (1.2, 1.5, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0):
        yield changed.with_weight(study, label, weight * times)


def purified(study: Study, sentence: str) -> Study:
    """Return the study in which a source holds nothing of what it is said to come with."""
    material, come = re.fullmatch(
        r"(?:only|best source) (.*?)(?: brings it)?: a point of it comes with (.*)", sentence
    ).groups()
    labels = {re.sub(r"^\S+ points of ", "", one) for one in come.split(" and ")}
    named = frozenset().union(*(row.members for row in study.target.rows if row.label in labels))
    stocks = []
    for bottle in study.stocks:
        content, stock = bottle.content, bottle
        if bottle.key.material == material:
            fewer = [{n: g for n, g in each.items() if n not in named} for each in (content.typical, content.high)]
            lost = math.fsum(g for n, g in content.typical.items() if n in named)
            rest = 0.0 if "what nobody declares" in labels else content.undeclared
            stock = replace(
                bottle,
                content=Content(*fewer, content.materials, rest),
                odorant=bottle.odorant - lost,
                active=bottle.active - lost - content.undeclared + rest,
            )
        stocks.append(stock)
    return with_stocks(study, stocks)


def poured_again(study: Study, sentence: str) -> Iterator[Study]:
    """Yield the studies in which a bottle that is set aside may be poured, and never ends."""
    for bottle in study.settled.bottles:
        if f"{bottle.key.material} " in sentence or f"{bottle.key.material}:" in sentence:
            more = changed.with_bottle_cells(study, bottle.key, stock_g=None)
            yield changed.with_bottle_available(more, bottle.key)


def wanted_for(found: Fit, reason: Reason) -> bool:
    """Whether what a bottle is said to be wanted for is farther off without it."""
    said = re.match(r"comes with (.*?)(?:, | \()wanted for (.*?)(?:\)|;|$)", reason.sentence)
    if said is None:
        return True
    left = with_stocks(found.study, (s for s in found.study.stocks if s.key.material != said[1]))
    with contextlib.suppress(NoFormula, NoAnswer):
        then = row_of(fit(left, FINE, shorten=False).judged_before, said[2])
        return abs(then.residual) > abs(row_of(found.judged_before, said[2]).residual)
    return True


def moved(found: Fit, reason: Reason) -> Iterator[Study]:
    """Yield the studies with what a reason names moved."""
    study, said = found.study, reason.sentence
    if reason.code == "limit":
        label = re.match(r"held by the limit (.*): (?:without it .* nearer|nearer without it)", said)[1]
        yield without(study, next(one.key for one in found.judged.limits if one.label == label))
    elif reason.code == "used_up":
        yield from with_more(study, said.split(" is used up: ")[0])
    elif reason.code == "below_balance":
        yield from freed(study, re.match(r"less of (.*) is wanted than can be weighed", said)[1])
    elif reason.code == "set_aside" and " may hold it" not in said:
        yield from poured_again(study, said)
    elif reason.code in {"fills_in", "no_source"}:
        yield whole(found)
    elif reason.code == "traded":
        yield from counting_more(study, reason.constituent)
    elif reason.code == "baggage":
        yield purified(study, said.split("; ")[0])


def holds(found: Fit, reason: Reason) -> bool:
    """Whether the row comes nearer as a reason says, in one of the studies with what it names moved."""
    if reason.code == "comes_with":
        return wanted_for(found, reason)
    now = row_of(found.judged_before, reason.constituent)
    proven = not re.search("nearer (without|with more of) it", reason.sentence)
    wanted = (PART if proven else LEAST) * (reason.gain or POINTS)
    for study in moved(found, reason):
        with contextlib.suppress(NoFormula, NoAnswer):
            then = fit(study, FINE, shorten=False).judged_before
            if reason.code == "traded":
                then = judge(found.study, {line.stock.key: line.grams for line in then.lines}, slack=1e-6)
                if then.closeness.value > TIMES * found.judged_before.closeness.value:
                    continue
            if abs(now.residual) - abs(row_of(then, reason.constituent).residual) >= wanted:
                return True
    return False


CHECKED = {"no_source", "set_aside", "limit", "used_up", "below_balance", "fills_in", "traded", "baggage", "comes_with"}


@seeds(0, 12, 40, 300)
def test_what_a_reason_names_brings_the_row_nearer(seed: int) -> None:
    try:
        found = fit(draw(seed).study())
    except (NoFormula, NoAnswer):
        return
    for reason in found.reasons.values():
        assert reason.code in set(get_args(Code))
        if reason.code in CHECKED:
            assert holds(found, reason), reason
