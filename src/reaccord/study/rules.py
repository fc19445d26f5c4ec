"""Rules on restricted substances and named amounts, names resolved."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Collection, Iterable

from reaccord.domain.limits import Member, NamedAmount, Rule
from reaccord.domain.lines import ANY_PRODUCT, LimitLine
from reaccord.domain.settings import AmountSettings, Settings
from reaccord.domain.settled import RuleEntry
from reaccord.domain.stock import Stock
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean, name_key, nearest
from reaccord.study.materials import Reconciled, bottled
from reaccord.study.smallest_mass import exact
from reaccord.tables.doubts import doubtful_cell, doubtful_section


def rule_entries(settled: Reconciled, findings: Findings) -> tuple[RuleEntry, ...]:
    """Return the rows of the restricted substances with their names settled, whatever product they are about."""
    lines = settled.tables.limits
    if not lines:
        return ()
    _doubt_dates(lines, settled.tables.settings.date, findings)
    found = tuple(_entry(line, settled, findings) for line in lines)
    _same_rule_twice(found, findings)
    _ratio_and_other(lines, findings)
    return found


def rules(
    entries: tuple[RuleEntry, ...], settings: Settings, stocks: Iterable[Stock], findings: Findings
) -> tuple[Rule, ...]:
    """Return the rules that hold for the study's product, sorted by label."""
    if not entries:
        if settings.limits.product and not settings.limits.table:
            findings.warn(
                "no-limits-table",
                "a product is named but no table of restricted substances.",
                Place(settings.file, column="limits.product"),
            )
        return ()
    product = _product(entries, settings, findings)
    held = _Held(stocks)
    grouped: dict[tuple[str, ...], list[tuple[LimitLine, tuple[Member, ...]]]] = {}
    for number, entry in enumerate(entries):
        line = entry.line
        members = held.members(entry, findings)
        if members and not line.only_condition and line.holds_for(product):
            same = (name_key(line.rule),) if line.kind == "ratio" else (line.rule, line.kind, str(number))
            grouped.setdefault(same, []).append((line, members))
    found = [_rule(group) for group in grouped.values()]
    return tuple(sorted(found, key=lambda rule: (rule.label, rule.kind, [m.name for m in rule.members], rule.product)))


def products(entries: Iterable[RuleEntry]) -> tuple[str, ...]:
    """Return the products that the rules name, each as first written."""
    named = {entry.line.product.lower(): entry.line.product for entry in reversed(tuple(entries))}
    return tuple(named[key] for key in sorted(named) if key != ANY_PRODUCT)


def _doubt_dates(lines: Iterable[LimitLine], today: datetime.date, findings: Findings) -> None:
    """Say which editions are dated after the day of the study."""
    ahead = [line for line in lines if line.date > today.isoformat()[: len(line.date)]]
    sentences = ((line.at.at("date"), f"{line.date} is after the day of the study ({today})") for line in ahead)
    findings.warn_once("date-ahead", sentences)


def _same_rule_twice(entries: Iterable[RuleEntry], findings: Findings) -> None:
    seen: dict[tuple[str, str, str, str], LimitLine] = {}
    for entry in entries:
        line, here = entry.line, set[str]()
        for member in entry.members:
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
        if doubtful_cell(findings, line.at.at("kind")):  # it is asked for already
            continue
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
        once[member.name] = member._replace(constituents=member.constituents - counted)
        counted |= member.constituents
    return tuple(once[member.name] for member in members)


def _product(entries: Iterable[RuleEntry], settings: Settings, findings: Findings) -> str:
    named, wanted = products(entries), settings.limits.product
    place = Place(settings.file, column="limits.product")
    if not wanted and doubtful_section(findings, settings.file, "limits"):
        return ""
    if not wanted and named:
        findings.error("missing-key", f"missing; the limits hold for: {', '.join(named)}. Which is it?", place)
    elif named and wanted.lower() not in {product.lower() for product in named}:
        hint = nearest(wanted, named)
        findings.error(
            "unknown-product",
            f'no limit names the product "{wanted}". The table has: {", ".join(named)}.' + did_you_mean(hint),
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


def _entry(line: LimitLine, settled: Reconciled, findings: Findings) -> RuleEntry:
    members, sums = [], []
    for text in line.members:
        known, material = settled.names.find(text), settled.materials.find(text)
        if known is None and material is None:
            if settled.tables.unread:  # it may stand in a table that could not be read
                continue
            everything = [*settled.names.known(), *settled.materials.all()]
            hint = did_you_mean(nearest(text, everything))
            if _all_known(re.split(r", | \+ | and |/", text), settled):
                hint = " Put ; between several members."
            findings.error(
                "unknown-member",
                f'the rule "{line.rule}" names "{text}", which no table and no registry knows.' + hint,
                line.at.at("members"),
            )
            continue
        if known is not None:
            settled.names.settle(text, line.at.at("members"), findings)
            covered = settled.names.covers(known.name)
            members.append(Member(known.name, covered, "", line.most or 0.0, absent=False))
            sums.append(settled.names.sums_holding(known.name))
        else:
            members.append(Member(material or text, frozenset(), material or text, line.most or 0.0, absent=False))
            sums.append(())
    return RuleEntry(line, tuple(members), tuple(sums))


def _all_known(names: Iterable[str], settled: Reconciled) -> bool:
    """Whether each is a constituent or a material."""
    return all(settled.names.find(name) is not None or settled.materials.find(name) is not None for name in names)


class _Held:
    """What stocks hold, as rules count it."""

    def __init__(self, stocks: Iterable[Stock]) -> None:
        contents = [stock.content for stock in stocks if stock.recipe is None]  # a dilution holds what its bottles do
        self._constituents = {n for held in contents for n, gram in held.high.items() if gram > 0}
        self._materials = {n for held in contents for n, gram in held.materials.items() if gram > 0}

    def members(self, entry: RuleEntry, findings: Findings) -> tuple[Member, ...]:
        """Return the members of a row: sums that a bottle states in place of one count in full, on the safe side."""
        found = []
        for member, sums in zip(entry.members, entry.sums, strict=True):
            unsplit = frozenset(sums) & self._constituents
            for sum_name in sorted(unsplit):
                findings.warn(
                    "sum-counted",
                    f"a bottle states only {sum_name}, which may be {member.name}: all of it counts as such here.",
                    entry.line.at.at("members"),
                )
            counted = member.constituents | unsplit
            there = member.material in self._materials if member.material else bool(counted & self._constituents)
            found.append(member._replace(constituents=counted, absent=not there))
        return tuple(found)


def named_amounts(
    materials: Collection[str], settings: Settings, stocks: Iterable[Stock], findings: Findings
) -> tuple[NamedAmount, ...]:
    """Return the named amounts, sorted by material; `materials` are those in bottles."""
    found: dict[str, NamedAmount] = {}
    stock_list = list(stocks)
    for number, amount in enumerate(settings.limits.amounts, start=1):
        place = Place(settings.file, column=f"limits.amount[{number}].material")
        material = bottled(amount.material, materials, settings, place, findings)
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
