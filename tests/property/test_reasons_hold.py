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

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import Judgement, Residual, judge
from reaccord.answer.why.reason import Code, Reason
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
NOISE = 1e-3
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
            content=Content(*weaker, part * stock.content.undeclared, part * stock.content.undeclared_high),
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
    contents = [Content({min(row.members): 1.0}, {min(row.members): 1.0}, {}, 0.0, 0.0) for row in rows]
    new = [Stock(key, content, 1.0, 1.0, 0.0) for key, content in zip(none, contents, strict=True)]
    study = with_stocks(found.study, (*found.study.stocks, *new))
    limits = study.settings.limits
    more = None if limits.lines is None else limits.lines + len(new)
    return replace(study, settings=replace(study.settings, limits=replace(limits, lines=more)))


def allowing(study: Study, sentence: str) -> Iterator[Study]:
    """Yield the studies with one of the bottles set aside that are named on the shelf, never empty."""
    for item in study.set_aside:
        if item.stock.key.material in sentence and item.stock.recipe is None:
            bottle = replace(item.stock, maximum_g=math.inf)
            kept = replace(study, set_aside=tuple(other for other in study.set_aside if other is not item))
            yield with_stocks(kept, (*study.stocks, bottle))


def aiming(found: Fit, reason: Reason) -> Study:
    """Return the study in which a row is to be where it is said it can be had, and counts for much."""
    now, target = row_of(found.judged_before, reason.constituent), found.study.target
    there = now.achieved - math.copysign(reason.gain, now.residual)
    rows = tuple(
        row._replace(low=there, high=there, factor=1e3 * row.factor) if row is now.row else row for row in target.rows
    )
    return replace(found.study, target=replace(target, rows=rows))


def forgiving(study: Study, sentence: str) -> Study:
    """Return the study in which no share of what a source is said to come with is too much."""
    come = sentence.split(": a point of it comes with ")[1]
    labels = {re.sub(r"^\S+ points of ", "", one) for one in come.split(" and ")}
    labels = {"undeclared" if one == "what nobody declares" else one for one in labels}
    rows = tuple(row._replace(high=100.0) if row.label in labels else row for row in study.target.rows)
    return replace(study, target=replace(study.target, rows=rows))


def is_so(found: Fit, reason: Reason) -> bool:
    """Whether what a reason says of the shelf, or of the formula, is so."""
    row, study = row_of(found.judged, reason.constituent), found.study
    may = {s.key.material for s in study.stocks if row.row.members & s.content.typical.keys()}
    aside = {item.stock.key.material for item in study.set_aside if row.row.members & item.stock.content.typical.keys()}
    if reason.code == "no_source":
        return not may and not aside
    if reason.code == "set_aside":
        return any(name in reason.sentence for name in aside - may) or not aside
    main = re.match(r"comes with (.*?)(?:, which| \(which| and |;|$)", reason.sentence)[1]
    return main == row.sources[0][0] and row.residual > 0


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
    elif reason.code == "fills_in":
        yield whole(found)
    elif reason.code == "set_aside":
        yield from allowing(study, said)
    elif reason.code == "traded":
        yield aiming(found, reason)
    elif reason.code == "baggage":
        yield forgiving(study, said.split("; ")[0])


def holds(found: Fit, reason: Reason) -> bool:
    """Whether the row comes nearer as a reason says, in one of the studies with what it names moved."""
    if reason.gain is None:
        return reason.code == "name_asked" or is_so(found, reason)
    if reason.code == "shortened":
        assert found.shorter is not None
        then = row_of(found.judged_before, reason.constituent)
        return abs(then.residual) < abs(row_of(found.shorter, reason.constituent).residual)
    now = row_of(found.judged_before, reason.constituent)
    proven = not re.search("nearer (without|with more of) it", reason.sentence)
    wanted = (PART if proven else LEAST) * reason.gain
    for study in moved(found, reason):
        with contextlib.suppress(NoFormula, NoAnswer):
            then = fit(study, FINE, shorten=False).judged_before
            if reason.code == "traded":
                then = judge(found.study, {line.stock.key: line.grams for line in then.lines}, slack=1e-6)
                if then.closeness.value > TIMES * found.judged_before.closeness.value * (1 + NOISE):
                    continue
            if abs(now.residual) - abs(row_of(then, reason.constituent).residual) >= wanted:
                return True
    return False


@seeds(0, 8, 40, 300)
def test_what_a_reason_names_brings_the_row_nearer(seed: int) -> None:
    try:
        found = fit(draw(seed).study())
    except (NoFormula, NoAnswer):
        return
    for reason in found.reasons.values():
        assert reason.code in set(get_args(Code))
        assert holds(found, reason), reason
