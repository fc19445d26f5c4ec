"""A study with one thing changed, nothing read again: it equals the study read from tables written so.

Each function returns another `Study` and leaves the one it is given as it is. What stays the same is the same object in
both, so that `programme.restate` states only what differs. All of them raise `InvalidInput`, with the findings that
reading would give, where no study can be made of it (a bottle left out that an amount asks for, a setting out of its
range), and `ValueError` for what the study does not have, or has not read, and for a cell that no table could hold.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from reaccord.domain.constituent import Constituent
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.lines import BottleLine
from reaccord.domain.settings import AmountSettings, Settings
from reaccord.domain.settled import Bottle, Price, RuleEntry, Settled, Use
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.domain.tables import Tables
from reaccord.findings import Findings, Place
from reaccord.names.key import name_key
from reaccord.study.assemble import assemble
from reaccord.study.prices import Prices
from reaccord.study.target_entries import samples_of
from reaccord.tables.columns import BOTTLES, TARGET, Column
from reaccord.tables.typed import check_cell, check_settings


def with_settings(study: Study, settings: Settings) -> Study:
    """Return the study with other settings; those that say what to read, and the day, must stay."""
    findings = Findings()
    check_settings(settings, findings)
    findings.raise_errors()
    if read_from(settings) != read_from(study.settings):
        raise ValueError("other tables, another basis or another day: read the study again.")
    made = settings.dilutions
    if made and name_key(made.carrier) not in _dilution_carrier(study):
        raise ValueError(f"dilutions in {made.carrier}: read the study again.")
    read = {sample for entry in study.settled.target for sample in entry.shares}
    unread = [sample for sample in samples_of(settings, study.tables.samples) if sample not in read]
    if unread or not set(settings.target.samples) <= set(study.tables.samples):
        raise ValueError(f"not among the samples that were read: {', '.join(unread or settings.target.samples)}.")
    return _again(study, study.settled, replace(study.tables, settings=settings), settings)


def with_keys(study: Study, section: str, **keys: object) -> Study:
    """Return the study with other keys in one section (`limits`, `batch`, `fit` ...), named as in `Settings`."""
    before = getattr(study.settings, section, None)
    if before is None:
        raise ValueError(f"the study file has no section [{section}].")
    unknown = keys.keys() - vars(before).keys()
    if unknown:
        raise ValueError(f"no such key in [{section}]: {', '.join(sorted(unknown))}.")
    return with_settings(study, replace(study.settings, **{section: replace(before, **keys)}))


def with_samples(study: Study, samples: Iterable[str]) -> Study:
    """Return the study of these samples of its target, of those it has read."""
    return with_keys(study, "target", samples=tuple(samples))


def with_amount(
    study: Study,
    material: str,
    *,
    at_least_g: float | None = None,
    at_most_g: float | None = None,
    exactly_g: float | None = None,
) -> Study:
    """Return the study with so many gram of a neat material, in place of what its settings ask; without any: free."""
    others = [amount for amount in study.settings.limits.amounts if name_key(amount.material) != name_key(material)]
    if (at_least_g, at_most_g, exactly_g) != (None, None, None):
        others.append(AmountSettings(material, at_least_g, at_most_g, exactly_g))
    return with_keys(study, "limits", amounts=tuple(others))


def with_rule(study: Study, claim: LimitKey, most: float | None) -> Study:
    """Return the study with another maximum in one claim of its rules; None: without the claim.

    `most` is a share of the finished product; of a ratio it is what the sum of shares over limits may be. The rule's
    other claims stay. `tables` keeps the maximum that was read.
    """
    if claim.kind != "restricted":
        raise ValueError(f"no claim of a rule: {claim.kind}.")
    if most is not None and not 0 <= most < math.inf:
        raise ValueError(f"a rule cannot allow {most}.")
    entries = tuple(_moved(entry, claim, most, study) for entry in study.settled.rules)
    if all(mine is theirs for mine, theirs in zip(entries, study.settled.rules, strict=True)):
        raise ValueError(f"no rule of this study claims {', '.join(claim.subject)}.")
    return _again(study, replace(study.settled, rules=entries), study.tables)


def with_weight(study: Study, label: str, weight: float) -> Study:
    """Return the study with another weight of the row of the target that has this label."""
    entry = next((entry for entry in study.settled.target if entry.label == label), None)
    if entry is None:
        raise ValueError(f'the target has no row "{label}".')
    check_cell(weight, _column("weight", TARGET))
    entries = tuple(one._replace(weight=weight) if one is entry else one for one in study.settled.target)
    alone = sum(one.place == entry.place for one in entries) == 1  # else the row is a material's, with others
    lines = study.tables.target
    if alone:
        lines = tuple(line._replace(weight=weight) if line.at == entry.place else line for line in lines)
    return _again(study, replace(study.settled, target=entries), replace(study.tables, target=lines))


def with_multiples(study: Study, times: Mapping[str, float]) -> Study:
    """Return the study with rows of the target at these multiples of their shares, by label; `tables` keeps the shares.

    Named rows and the open rest are multiplied; a row's factor follows the scale.
    """
    wrong = [f"{label} {multiple}" for label, multiple in times.items() if not 0 <= multiple < math.inf]
    if wrong:
        raise ValueError(f"no multiples: {', '.join(wrong)}.")
    before = study.settled.multiples
    after = {label: before.get(label, 1.0) * times.get(label, 1.0) for label in (*before, *times)}
    return _again(study, replace(study.settled, multiples=after), study.tables)


def with_bottle_cells(study: Study, key: StockKey, **cells: float | None) -> Study:
    """Return the study with other grams of a bottle: `stock_g`, `minimum_g` or `step_g`; its dilutions follow."""
    if not cells.keys() <= {"stock_g", "minimum_g", "step_g"}:
        raise ValueError(f"of a bottle only its grams can be changed, not {', '.join(cells)}.")
    for name, value in cells.items():
        check_cell(value, _column(name, BOTTLES))
    bottle = _bottle(study, key)
    line = bottle.line._replace(**cells)  # type: ignore[arg-type]
    lines = tuple(line if one is bottle.line else one for one in study.tables.bottles)
    return _again(study, _in_place(study, bottle, bottle._replace(line=line)), replace(study.tables, bottles=lines))


def without_bottle(study: Study, key: StockKey) -> Study:
    """Return the study in which a bottle is set aside as excluded, and with it the dilutions made from it."""
    return _used(study, key, "never")


def with_bottle_available(study: Study, key: StockKey) -> Study:
    """Return the study in which a bottle may be poured though it is excluded or past its date, if any of it is left."""
    return _used(study, key, "always")


def with_bottle(study: Study, stock: Stock) -> Study:
    """Return the study with one bottle more; the dilutions that may be made from it come along.

    Its contents, price and grams are those of `stock`; a minimum and a step of 0 are the balance's, and what of it is
    carrier follows the study. `tables` has no row of it.
    """
    if any(bottle.key == stock.key for bottle in study.settled.bottles):
        raise ValueError(f"{stock.label} stands on the shelf already.")
    settled, key = study.settled, stock.key
    line = BottleLine(
        Place(),
        key.material,
        strength=key.strength,
        carrier=key.carrier,
        price_per_kg=None if stock.price_per_g is None else 1000 * stock.price_per_g,
        stock_g=None if math.isinf(stock.maximum_g) else stock.maximum_g,
        lot=key.lot,
        minimum_g=stock.minimum_g or None,
        step_g=stock.step_g or None,
        solid=stock.solid,
    )
    names = {key.material} | (set(stock.content.typical) if len(stock.content.typical) == 1 else set())
    diluting = settled.diluting | ({key.carrier} - {""} - settled.parts.keys())
    constituents = {name: Constituent(name) for name in (*stock.content.high, *sorted(diluting))}
    bottles = (*settled.bottles, Bottle(key, stock.content, Price(stock.price_per_g), line, ""))
    more = replace(
        settled,
        bottles=bottles,
        stands_for={key.material: frozenset(names), **settled.stands_for},
        diluting=diluting,
        constituents={**constituents, **settled.constituents},
    )
    return _again(study, replace(more, bottles=_priced(more)), study.tables)


def _priced(settled: Settled) -> tuple[Bottle, ...]:
    """Return the bottles with what they cost: a blend without a price costs its parts, which may be cheaper now."""
    lines = {bottle.key: bottle.line for bottle in settled.bottles}
    prices = Prices(lines, settled.parts, settled.stands_for, settled.order)
    return tuple(
        bottle
        if bottle.line.price_per_kg is not None
        else bottle._replace(price=prices.of(bottle.key, bottle.analysis))
        for bottle in settled.bottles
    )


def read_from(settings: Settings) -> tuple[object, ...]:
    """Return what of the settings had its part in reading and settling the tables."""
    target, shelf = settings.target, settings.shelf
    tables = (target.table, shelf.bottles, shelf.compositions, shelf.constituents, settings.limits.table)
    return (*tables, target.basis, settings.date)


def _dilution_carrier(study: Study) -> set[str]:
    """Return the keys of the names that the carrier of dilutions goes by."""
    name, made = study.settled.dilution_carrier, study.settings.dilutions
    known = study.constituents.get(name)
    names = (name, *((known.cas, *known.synonyms) if known else ()), made.carrier if made else "")
    return {name_key(name) for name in names if name}


def _column(name: str, columns: Iterable[Column]) -> Column:
    return next(column for column in columns if column.name == name)


def _bottle(study: Study, key: StockKey) -> Bottle:
    found = next((bottle for bottle in study.settled.bottles if bottle.key == key), None)
    if found is None:
        raise ValueError(f"no bottle of this study: {', '.join(key.subject)}.")
    return found


def _in_place(study: Study, before: Bottle, after: Bottle) -> Settled:
    bottles = tuple(after if bottle is before else bottle for bottle in study.settled.bottles)
    return replace(study.settled, bottles=bottles)


def _used(study: Study, key: StockKey, use: Use) -> Study:
    bottle = _bottle(study, key)
    return _again(study, _in_place(study, bottle, bottle._replace(use=use)), study.tables)


def _moved(entry: RuleEntry, claim: LimitKey, most: float | None, study: Study) -> RuleEntry:
    """Return a row of the restricted substances with another maximum if the claim is its own, or a part of its own."""
    label, kind, product, *names = claim.subject
    line, ratio = entry.line, kind == "ratio"
    same_rule = name_key(line.rule) == name_key(label) if ratio else line.rule == label
    for_it = line.holds_for(study.settings.limits.product) if ratio else line.product.lower() == product
    own = {member.name for member in entry.members}
    if not (same_rule and line.kind == kind and for_it and own & set(names)):
        return entry
    if kind == "sum":
        if sorted(own) != sorted(names):
            return entry
        return entry._replace(members=(), sums=()) if most is None else entry._replace(line=line._replace(most=most))
    kept = []
    for member, sums in zip(entry.members, entry.sums, strict=True):
        if member.name not in names:
            kept.append((member, sums))
        elif most is not None:  # the sum of shares over limits is kept below 1: the limits of a ratio move
            limit = member.most * max(most, 1e-12) if ratio else most
            kept.append((member._replace(most=limit), sums))
    return entry._replace(members=tuple(one for one, _ in kept), sums=tuple(sums for _, sums in kept))


def _again(study: Study, settled: Settled, tables: Tables, settings: Settings | None = None) -> Study:
    findings = Findings()
    findings.extend(settled.warnings)
    changed = assemble(tables, settled, settings or study.settings, findings, study)
    return replace(changed, inputs=study.inputs)
