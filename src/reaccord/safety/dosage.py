"""How much of a formula a finished product may hold, and what of each restricted substance it brings.

A rule counts per gram of accord: with `q_m` gram of its member `m` per gram of accord (contents at their high end),
it claims `dosage x sum_m c_m q_m <= most`. So the highest dosage at which every rule holds is the least of
`most / sum_m c_m q_m`, and never more than the product wholly poured: gram of accord per gram poured.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from reaccord.answer.judge import Judgement, judge
from reaccord.domain.limits import RuleClaim
from reaccord.domain.lines import ANY_PRODUCT
from reaccord.domain.settled import Bottle
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.findings import Findings
from reaccord.names.key import name_key
from reaccord.study.conditions import unmet
from reaccord.study.rules import products, rules


@dataclass(frozen=True)
class Highest:
    """The highest dosage in one product: gram of accord per gram of product; 0 where it may not be used at all.

    `rule` decides, by its label; blank: none does, and the product is the formula as poured. `absent` are constituents
    that its rules limit and materials poured that are known to carry them without a row of them: not analysed is not
    none, and the dosage does not count them.
    """

    product: str
    accord: float
    rule: str
    absent: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Source:
    """What one stock brings: share of the finished product (of a ratio: part of what may be)."""

    stock: Stock
    share: float


@dataclass(frozen=True)
class Total:
    """One claim of a rule at the study's dosage: where it stands, over all sources.

    `undeclared` is the most that these sources and the absent can hold without a name, a share of the finished product;
    `absent` as in `Highest`.
    """

    claim: RuleClaim
    share: float
    sources: tuple[Source, ...]
    undeclared: float
    absent: tuple[tuple[str, str], ...]

    @property
    def held(self) -> bool:
        """Whether it is within its limit."""
        return self.share <= self.claim.most * (1 + 1e-9)


@dataclass(frozen=True)
class Masses:
    """Gram of accord, of concentrate (accord and what comes besides, no carrier) and of all that is poured."""

    accord_g: float
    concentrate_g: float
    poured_g: float

    @property
    def most(self) -> float:
        """The dosage of a product that is nothing but the formula as poured."""
        return self.accord_g / self.poured_g

    def concentrate(self, dosage: float) -> float:
        """Return a dosage of accord as gram of concentrate per gram of product."""
        return dosage * self.concentrate_g / self.accord_g

    def poured(self, dosage: float) -> float:
        """Return a dosage of accord as gram of the formula as poured per gram of product."""
        return dosage * self.poured_g / self.accord_g


@dataclass(frozen=True)
class Dosage:
    """A formula against the table of restricted substances; `dosage` is the study's, None where it states none."""

    study: Study
    judged: Judgement
    masses: Masses
    highest: tuple[Highest, ...]
    totals: tuple[Total, ...]

    @property
    def dosage(self) -> float | None:
        """Gram of accord per gram of finished product."""
        return self.study.settings.limits.dosage

    @property
    def own(self) -> Highest | None:
        """The highest in the study's product; None where it names none of several."""
        wanted = self.study.settings.limits.product
        alike = (each for each in self.highest if each.product.casefold() in {wanted.casefold(), ANY_PRODUCT})
        return self.highest[0] if not wanted and len(self.highest) == 1 else next(alike, None)

    @property
    def broken(self) -> tuple[str, ...]:
        """What does not hold at the study's dosage: claims of rules, or the condition on a bottle."""
        labels = tuple(total.claim.label for total in self.totals if not total.held)
        uncertified = self.own is not None and self.own.accord == 0 and self.dosage is not None
        return labels or ((self.own.rule,) if uncertified and self.own else ())


def dosage(study: Study, amounts: Mapping[StockKey, float]) -> Dosage:
    """Return what a formula may be dosed at and what it brings.

    Raises
    ------
    ValueError
        If the formula holds nothing of the target.
    """
    judged = judge(study, amounts)
    totals = judged.totals
    masses = Masses(totals.accord_g, totals.total_g - totals.carrier_g, totals.total_g)
    named = (*products(study.settled.rules),) or ((ANY_PRODUCT,) if study.settled.rules else ())
    highest = tuple(highest_in(product, study, judged, masses) for product in named)
    at = study.settings.limits.dosage
    found = () if at is None else tuple(_total(claim, study, judged, at) for claim in study.claims())
    return Dosage(study, judged, masses, highest, found)


def highest_in(product: str, study: Study, judged: Judgement, masses: Masses) -> Highest:
    """Return the highest dosage in a product."""
    limits = replace(study.settings.limits, product=product, dosage=1.0)
    stocks = [line.stock for line in judged.lines]
    held = rules(study.settled.rules, replace(study.settings, limits=limits), stocks, Findings())
    claims = [claim for rule in held for claim in rule.claims()]
    absent = tuple(dict.fromkeys(pair for claim in claims for pair in _absent(claim, study, judged)))
    bottles = {bottle.key: bottle for bottle in study.settled.bottles}
    for bottle in _poured(judged, bottles):
        for label, condition in unmet(bottle, study.settled.rules, product):
            return Highest(product, 0.0, f"{label}: {bottle.key.material} is not certified ({condition})", absent)
    best = Highest(product, masses.most, "", absent)
    for claim in claims:
        brought = math.fsum(_brought(claim, line.stock) * line.grams for line in judged.lines)
        if brought > 0 and claim.most * masses.accord_g < best.accord * brought:
            best = replace(best, accord=claim.most * masses.accord_g / brought, rule=claim.label)
    return best


def not_analysed(study: Study, judged: Judgement) -> list[tuple[str, str]]:
    """Return constituents that rules in force limit, each with a material poured that carries it without a row."""
    return list(dict.fromkeys(pair for claim in study.claims() for pair in _absent(claim, study, judged)))


def unnamed_g(judged: Judgement, totals: Iterable[Total]) -> float:
    """Return gram that what brings any of these totals, or may, can hold without a name."""
    known = list(totals)
    keys = {source.stock.key for total in known for source in total.sources}
    absent = {material for total in known for _, material in total.absent}
    stocks = [(line.grams, line.stock) for line in judged.lines]
    return math.fsum(
        grams * stock.content.undeclared_high
        for grams, stock in stocks
        if stock.key in keys or absent & stock.content.materials.keys()
    )


def _brought(claim: RuleClaim, stock: Stock) -> float:
    """Return what a claim counts in one gram of a stock."""
    return math.fsum(factor * member.held(stock.content) for factor, member in claim.terms)


def _poured(judged: Judgement, bottles: Mapping[StockKey, Bottle]) -> list[Bottle]:
    """Return the bottles a formula is poured from, those that its dilutions are made of among them."""
    keys = [line.stock.recipe.source if line.stock.recipe else line.stock.key for line in judged.lines]
    return [bottles[key] for key in dict.fromkeys(keys) if key in bottles]


def _total(claim: RuleClaim, study: Study, judged: Judgement, at: float) -> Total:
    per_gram = at / judged.totals.accord_g
    found = [Source(line.stock, per_gram * line.grams * _brought(claim, line.stock)) for line in judged.lines]
    sources = tuple(sorted((s for s in found if s.share > 0), key=lambda s: (-s.share, s.stock.key)))
    share = math.fsum(source.share for source in sources)
    total = Total(claim, share, sources, 0.0, tuple(_absent(claim, study, judged)))
    return replace(total, undeclared=per_gram * unnamed_g(judged, [total]))


def _absent(claim: RuleClaim, study: Study, judged: Judgement) -> Iterable[tuple[str, str]]:
    """Yield member and material where it is known to occur and has no row."""
    inside = {material for line in judged.lines for material in line.stock.content.materials}
    spoken = {name_key(material): material for material in inside}
    for member in (member for _, member in claim.terms if not member.material):
        carried = [spoken[key] for key in carriers_of(study, member.constituents) if key in spoken]
        for material in carried:
            if not _analysed(study, material, member.constituents):
                yield member.name, material


def carriers_of(study: Study, constituents: Iterable[str]) -> Sequence[str]:
    """Return the keys of the materials that the constituents table says carry one of these."""
    known: dict[str, str] = {}
    for name in constituents:
        constituent = study.constituents.get(name)
        synonyms = (constituent.cas, *constituent.synonyms) if constituent else ()
        known |= {name_key(each): name for each in (name, *synonyms) if each}
    lines = [line for line in study.tables.constituents if name_key(line.constituent) in known]
    return sorted({name_key(material) for line in lines for material in line.carries})


def _analysed(study: Study, material: str, constituents: frozenset[str]) -> bool:
    """Whether any analysis of a material, or of what is in it, has a row of one of these."""
    parts = study.settled.parts
    names = [analysis for analysis in parts if study.settled.analysed.get(analysis, analysis) == material]
    return any(
        part.name in constituents
        or (part.kind == "material" and part.name != material and _analysed(study, part.name, constituents))
        for name in names
        for part in parts[name]
    )
