"""What is in the vial: read from a table, from options, or both, and matched to the stocks of a study."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reaccord.cli.inputs import Agreed, read_study, study_and_formulas
from reaccord.cli.numbers import without_gram
from reaccord.cli.options import Options
from reaccord.findings import Finding, Findings, Place, UsageError

if TYPE_CHECKING:
    from reaccord.domain.stock import StockKey
    from reaccord.domain.study import Study

OPTION = "--poured"


@dataclass(frozen=True)
class InTheVial:
    """Gram poured by stock, and where each was said; `words` are the names that options gave, with their grams."""

    study: Study
    amounts: Mapping[StockKey, float]
    places: Mapping[StockKey, Place]
    words: tuple[tuple[str, float], ...] = ()

    def need_strengths(self, plan: Mapping[StockKey, float]) -> None:
        """Ask of each name without a strength which is meant, the dilution that is planned or the neat one there is.

        Raises
        ------
        InvalidInput
            With every such name.
        """
        from reaccord.answer.called import planned_dilution

        findings = Findings()
        poured = {key for key, grams in plan.items() if grams > 0}
        for name, grams in self.words:
            stock = planned_dilution(name, self.study.every_stock, poured)
            if stock is not None:
                ways = [f'"{stock.key.material}, {share * 100:g} %={grams:g}"' for share in (stock.key.strength, 1.0)]
                text = (
                    f"{name}: the formula has {stock.label}, and there is a neat bottle. Write {ways[0]} if the "
                    f"dilution was poured, {ways[1]} if the neat one was."
                )
                findings.error("which-strength", text, Place(OPTION))
        findings.raise_errors()

    def warnings_of(self, agreed: Agreed) -> tuple[Finding, ...]:
        """Return what must be known: a bottle that the formula does not have, or that is set aside."""
        findings = Findings()
        aside = {item.stock.key: item for item in self.study.set_aside}
        known = {s.key: s for s in (*self.study.stocks, *(item.stock for item in aside.values()))}
        for key in self.amounts:
            if not agreed.amounts.get(key):
                meant = [known[k].label for k in agreed.amounts if k.material == key.material and k in known]
                other = f" The formula has {' and '.join(meant)}: if that was poured, write it so." if meant else ""
                text = f"{known[key].label} is not in the formula: what is in the vial is counted.{other}"
                findings.warn("not-in-formula", text, self.places[key])
            if key in aside:
                text = f"{known[key].label} must not be poured ({aside[key].reason}): what is in the vial is counted."
                findings.warn("set-aside-poured", text, self.places[key])
        return findings.told("warning")


def study_formula_poured(
    path: Path, formula: Path | None, poured: tuple[Path | None, tuple[str, ...]], options: Options
) -> tuple[Study, Agreed | None, InTheVial]:
    """Read a study, the formula where one is given, and what was poured; every finding at once.

    A line of `--poured` stands for that line of the table. Without a formula, a sheet with the column `grams` beside
    `poured_g` is the formula.

    Raises
    ------
    UsageError
        If nothing was poured, or an option names no bottle or no grams.
    InvalidInput
        With every error of the tables, and where more was poured than there was.
    """
    from reaccord.answer.called import stock_called
    from reaccord.answer.formula import match_formula
    from reaccord.tables.read import read_poured

    table, lines = poured
    if table is None and not lines:
        raise UsageError('what was poured? Name the table of it, or write --poured "NAME=GRAM".')
    findings = Findings()
    read = None if table is None else read_poured(table, findings)
    findings.raise_errors()
    given = [named for named in (formula, table) if named is not None]
    if formula is None:
        study, agreed = read_study(path, options), None
        options.guard(given)
    else:
        study, (agreed,) = study_and_formulas(path, [formula], options, lambda *_: "")
        options.guard(given)
    amounts: dict[StockKey, float] = {}
    places: dict[StockKey, Place] = {}
    if read is not None:
        amounts = match_formula(study, read[0], findings, agreed.amounts if agreed else {})
        findings.raise_errors()
        places = {key: line.at.at("poured_g") for key, line in zip(amounts, read[0], strict=True)}
        study = replace(study, inputs=(*study.inputs, read[1]))
        if agreed is not None:
            agreed = agreed._replace(study=replace(agreed.study, inputs=(*agreed.study.inputs, read[1])))
        elif planned := {k: line.planned_g for k, line in zip(amounts, read[0], strict=True) if line.planned_g}:
            agreed = Agreed(study, planned, "done", (*study.warnings, *findings.warnings))
    stocks = study.every_stock
    said: set[StockKey] = set()
    words = tuple(map(_line, lines))
    for name, grams in words:
        stock = stock_called(name, stocks, agreed.amounts if agreed else {}, OPTION)
        key = stock.key
        if key in said:
            raise UsageError(f"{OPTION}: {stock.label} is said twice. Write the sum of what was poured, once.")
        said.add(key)
        amounts[key], places[key] = grams, Place(OPTION)
    found = InTheVial(study, {key: grams for key, grams in amounts.items() if grams > 0}, places, words)
    if agreed is not None:
        found.need_strengths(agreed.amounts)
    if not found.amounts:
        raise UsageError("nothing is poured yet: reaccord weigh says what to pour.")
    _need_stock(study, found.amounts, places, findings)
    findings.raise_errors()
    return study, agreed, found


def _line(text: str) -> tuple[str, float]:
    from reaccord.tables.cells import BadCell, number

    name, sign, grams = text.rpartition("=")
    if not sign or not name.strip():
        raise UsageError(f'{OPTION} takes a name and grams, as "Citral 95=1.96", not "{text}".')
    try:
        value = number(without_gram(grams))
    except BadCell as fault:
        raise UsageError(f"{OPTION} {text}: {fault}") from None
    if value < 0:
        raise UsageError(f"{OPTION} {text}: less than nothing cannot be poured.")
    return name.strip(), value


def _need_stock(
    study: Study, amounts: Mapping[StockKey, float], places: Mapping[StockKey, Place], findings: Findings
) -> None:
    """Refuse amounts that no bottle held: alone, and with the dilutions made of it."""
    known = {s.key: s for s in study.every_stock}
    cure = "Mend the amount, or the bottle's stock_g."
    taken: dict[StockKey, float] = {}
    for key, grams in amounts.items():
        stock = known[key]
        if stock.recipe is None:
            taken[key] = taken.get(key, 0.0) + grams
            places = {**places, key: places[key]}
        else:
            source = stock.recipe.source
            taken[source] = taken.get(source, 0.0) + max(grams, stock.recipe.least_g) * stock.recipe.source_share
            places = {source: places[key], **places}
    for key, grams in taken.items():
        most = known[key].maximum_g
        if grams > most * (1 + 1e-9) + known[key].step_g:
            text = f"{grams:.6g} g of {known[key].label} are poured, {most:g} g were on hand. {cure}"
            findings.error("above-stock", text, places[key])
