"""Rules on restricted substances and named amounts, names resolved."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable
from dataclasses import replace

from reaccord.domain.limits import Member, NamedAmount, Rule
from reaccord.domain.lines import LimitLine
from reaccord.domain.settings import AmountSettings
from reaccord.domain.stock import Stock
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean, name_key, nearest
from reaccord.study.materials import Reconciled
from reaccord.study.smallest_mass import exact
from reaccord.tables.doubts import doubtful_section

ANY_PRODUCT = "any"


def rules(settled: Reconciled, stocks: Iterable[Stock], findings: Findings) -> tuple[Rule, ...]:
    """Return the rules that hold for the study's product, sorted by label."""
    settings = settled.tables.settings
    lines = settled.tables.limits
    if not lines:
        if settings.limits.product and not settings.limits.table:
            findings.warn(
                "no-limits-table",
                "a product is named but no table of restricted substances.",
                Place(settings.file, column="limits.product"),
            )
        return ()
    product = _product(settled, findings)
    _doubt_dates(lines, settings.date, findings)
    stock_list = list(stocks)
    resolved = [(line, _members(line, settled, stock_list, findings)) for line in lines]
    _same_rule_twice(resolved, findings)
    grouped: dict[tuple[str, ...], list[tuple[LimitLine, tuple[Member, ...]]]] = {}
    for number, (line, members) in enumerate(resolved):
        if line.product.lower() in {ANY_PRODUCT, product}:
            same = (name_key(line.rule),) if line.kind == "ratio" else (line.rule, line.kind, str(number))
            grouped.setdefault(same, []).append((line, members))
    _ratio_and_other(lines, findings)
    found = [_rule(group) for group in grouped.values()]
    return tuple(sorted(found, key=lambda rule: (rule.label, rule.kind, [m.name for m in rule.members], rule.product)))


def _doubt_dates(lines: Iterable[LimitLine], today: datetime.date, findings: Findings) -> None:
    """Say which editions are dated after the day of the study."""
    ahead = [line for line in lines if line.date > today.isoformat()[: len(line.date)]]
    sentences = ((line.at.at("date"), f"{line.date} is after the day of the study ({today})") for line in ahead)
    findings.warn_once("date-ahead", sentences)


def _same_rule_twice(resolved: Iterable[tuple[LimitLine, tuple[Member, ...]]], findings: Findings) -> None:
    seen: dict[tuple[str, str, str, str], LimitLine] = {}
    for line, members in resolved:
        here: set[str] = set()
        for member in members:
            key = (line.rule, line.product.lower(), line.kind, member.name)
            other = seen.setdefault(key, line)
            if other is not line or member.name in here:
                findings.error(
                    "duplicate-row",
                    f'the rule "{line.rule}" limits {member.name} for {line.product} in row {other.at.row} already.',
                    line.at.at("members"),
                )
            here.add(member.name)


def _ratio_and_other(lines: Iterable[LimitLine], findings: Findings) -> None:
    """Refuse a rule that is a ratio in one line and not in another: a member left out of a sum loosens it."""
    kinds: dict[str, dict[bool, LimitLine]] = {}
    for line in lines:
        kinds.setdefault(name_key(line.rule), {}).setdefault(line.kind == "ratio", line)
    for both in kinds.values():
        if len(both) == 2:
            findings.error(
                "rule-kinds",
                f'the rule "{both[False].rule}" is a ratio in row {both[True].at.row}, but {both[False].kind} here. '
                "All lines of a ratio say ratio; another limit needs another name.",
                both[False].at.at("kind"),
            )


def _rule(group: list[tuple[LimitLine, tuple[Member, ...]]]) -> Rule:
    first = group[0][0]
    members = tuple(sorted((m for _, found in group for m in found), key=lambda member: member.name))
    cautions = tuple(dict.fromkeys(caution for line, _ in group for caution in line.cautions))
    if first.kind in {"sum", "ratio"}:
        members = _counted_once(members)
    most = 1.0 if first.kind == "ratio" else first.most or 0.0
    product = "" if first.kind == "ratio" else first.product.lower()
    return Rule(first.rule, first.kind, members, most, first.authority, first.edition, first.date, cautions, product)


def _counted_once(members: tuple[Member, ...]) -> tuple[Member, ...]:
    """Let a constituent that several members cover count once, under the strictest of them."""
    counted: set[str] = set()
    once: dict[str, Member] = {}
    for member in sorted(members, key=lambda m: (m.most, len(m.constituents), m.name)):
        once[member.name] = replace(member, constituents=member.constituents - counted)
        counted |= member.constituents
    return tuple(once[member.name] for member in members)


def _product(settled: Reconciled, findings: Findings) -> str:
    settings = settled.tables.settings
    products = sorted({line.product for line in settled.tables.limits if line.product.lower() != ANY_PRODUCT})
    wanted = settings.limits.product
    place = Place(settings.file, column="limits.product")
    if not wanted and doubtful_section(findings, settings.file, "limits"):
        return ""
    if not wanted and products:
        findings.error("missing-key", f"missing; the limits hold for: {', '.join(products)}. Which is it?", place)
    elif products and wanted.lower() not in {product.lower() for product in products}:
        hint = nearest(wanted, products)
        findings.error(
            "unknown-product",
            f'no limit names the product "{wanted}". The table has: {", ".join(products)}.' + did_you_mean(hint),
            place,
        )
    at_dosage = Place(settings.file, column="limits.dosage")
    if settings.limits.dosage is None and not doubtful_section(findings, settings.file, "limits"):
        findings.error(
            "missing-key",
            "missing; limits hold for the finished product, so the share of the accord in it is needed.",
            at_dosage,
        )
    return wanted.lower()


def _members(line: LimitLine, settled: Reconciled, stocks: list[Stock], findings: Findings) -> tuple[Member, ...]:
    found = []
    for text in line.members:
        known, material = settled.names.find(text), settled.materials.find(text)
        if known is None and material is None:
            if settled.tables.unread:  # it may stand in a table that could not be read
                continue
            everything = [*settled.names.known(), *settled.materials.all()]
            hint = nearest(text, everything)
            findings.error(
                "unknown-member",
                f'the rule "{line.rule}" names "{text}", which no table and no registry knows.' + did_you_mean(hint),
                line.at.at("members"),
            )
            continue
        if known is not None:
            settled.names.settle(text, line.at.at("members"), findings)
            covered = settled.names.covers(known.name)
            unsplit = _unsplit_sums(known.name, settled, stocks)
            for sum_name in unsplit:
                findings.warn(
                    "sum-counted",
                    f"a bottle states only {sum_name}, which may be {known.name}: all of it counts as such here.",
                    line.at.at("members"),
                )
            member = Member(known.name, covered | unsplit, "", line.most or 0.0, absent=False)
        else:
            member = Member(material or text, frozenset(), material or text, line.most or 0.0, absent=False)
        absent = all(member.held(stock.content) <= 0 for stock in stocks)
        found.append(Member(member.name, member.constituents, member.material, member.most, absent))
    return tuple(found)


def _unsplit_sums(name: str, settled: Reconciled, stocks: list[Stock]) -> frozenset[str]:
    """Return the sums a bottle states in place of `name`: on the safe side they count in full."""
    return frozenset(
        sum_name
        for sum_name in settled.names.sums_holding(name)
        if any(stock.content.high.get(sum_name, 0.0) > 0 for stock in stocks)
    )


def named_amounts(settled: Reconciled, stocks: Iterable[Stock], findings: Findings) -> tuple[NamedAmount, ...]:
    """Return the named amounts, sorted by material."""
    settings = settled.tables.settings
    found: dict[str, NamedAmount] = {}
    stock_list = list(stocks)
    bottled = {settled.materials.find(line.material) or "" for line in settled.tables.bottles}
    for number, amount in enumerate(settings.limits.amounts, start=1):
        place = Place(settings.file, column=f"limits.amount[{number}].material")
        material = settled.bottled(amount.material, bottled, place, findings)
        if material is None:
            continue
        if material in found:
            findings.error("duplicate-row", f"{material} has an amount already.", place)
        found[material] = _amount(material, amount, stock_list, place, findings)
    return tuple(found[name] for name in sorted(found))


def _amount(
    material: str, amount: AmountSettings, stocks: list[Stock], place: Place, findings: Findings
) -> NamedAmount:
    mine = [stock for stock in stocks if stock.key.material == material]
    least = amount.exactly_g if amount.exactly_g is not None else amount.at_least_g or 0.0
    most = amount.exactly_g if amount.exactly_g is not None else amount.at_most_g
    if least > 0 and not mine:
        findings.error(
            "nothing-to-pour",
            f"{material} is wanted, but no bottle of it may be used (excluded, overdue or empty).",
            place,
        )
    if amount.exactly_g and mine:
        steps = [(stock, exact(amount.exactly_g) / exact(stock.key.strength)) for stock in mine]
        if all(stock.step_g and (grams / exact(stock.step_g)).denominator != 1 for stock, grams in steps):
            step = mine[0].step_g
            findings.error(
                "off-grid",
                f"{amount.exactly_g:g} g cannot be weighed in whole steps of {step:g} g.",
                Place(place.file, column=place.column.replace("material", "exactly_g") if place.column else None),
            )
    return NamedAmount(material, least, math.inf if most is None else most)
