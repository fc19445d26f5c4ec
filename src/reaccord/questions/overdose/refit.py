"""A series solved again for each multiple: the target's row is multiplied, the others keep their ratios."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.why.reason import sentence
from reaccord.balance.dilution import stocks_to_make
from reaccord.balance.equal_strength import solvent_of
from reaccord.contract import Budget, Programme
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.domain.target import TargetRow
from reaccord.findings import NoAnswer, NoFormula, UsageError
from reaccord.programme import restate, state
from reaccord.questions.overdose.series import (
    Series,
    Step,
    at_equal_strength,
    coded,
    restricted,
)
from reaccord.questions.overdose.wanted import Wanted
from reaccord.study.changed import with_multiples

WORTH_NAMING = 1e-5
"""Share of the accord: less is rounding."""
MISSED = 0.01
"""Of the multiple; one that is reached but for less needs no reason."""


@dataclass(frozen=True)
class Multiplied:
    """A study whose target has some rows at a multiple; or why there is none."""

    study: Study
    refused: str = ""


def refit(
    study: Study, base: Mapping[StockKey, float], wanted: Sequence[Wanted], times: Sequence[float], budget: Budget
) -> Series:
    """Return the series made by solving again for each multiple; `base`, gram by stock, is what it is compared with.

    Parameters
    ----------
    wanted, times
        Rows of the target, and the multiples of their shares.
    budget
        Gap of each search, seconds for all of them.

    Raises
    ------
    UsageError
        If the target has no row of a constituent, or one that it shares with others.
    """
    budget, proven, steps = budget.running(), True, list[Step]()
    stated = state(study)
    judged = judge(study, base)
    last: Fit | None = None
    for one in wanted:
        rows = rows_of(study, one)
        for multiple in times:
            changed = multiplied(study, one, rows, multiple)
            if not multiple and not changed.refused and _share(judged, rows) <= WORTH_NAMING:
                changed = replace(changed, refused=f"the base holds none of {one.name}: without it is the base itself")
            step = Step(one.name, multiple, 0.0, refused=changed.refused or None)
            if not step.refused:
                programme = restate(stated, study, changed.study)
                found = _fitted(changed.study, programme, budget.rest(), last)
                last = found if isinstance(found, Fit) else last
                step, sure = _made(found, step, rows)
                step = replace(step, brought=besides(judged, step.judged, rows) if step.judged else None)
                proven = proven and sure
            steps.append(step)
    made, base_solvent_g, concentration = _at_equal_strength(study, steps, judged)
    return Series(
        study=study,
        mode="refit",
        base=judged,
        steps=coded(study, made, "refit"),
        base_needed_g=0.0,
        batches=0,
        concentration=concentration,
        solvent=solvent_of(study),
        stocks=stocks_to_make(study, _poured(made)),
        proven=proven,
        base_solvent_g=base_solvent_g,
    )


def _at_equal_strength(
    study: Study, steps: Sequence[Step], base: Judgement
) -> tuple[tuple[Step, ...], float, float | None]:
    """Return the steps with their carrier, that of the base, which is smelled beside them, and the strength of all."""
    if all(step.refused for step in steps):
        return tuple(steps), 0.0, None
    whole = Step("", 1.0, base.totals.total_g, judged=base)
    (*made, beside), concentration = at_equal_strength(study, [*steps, whole])
    return tuple(made), beside.solvent_g, concentration


def _poured(steps: Sequence[Step]) -> dict[StockKey, float]:
    """Return gram of each stock over all steps that are made."""
    found: dict[StockKey, float] = {}
    for step in steps:
        for line in step.judged.lines if step.judged and not step.refused else ():
            found[line.stock.key] = found.get(line.stock.key, 0.0) + line.grams
    return found


def rows_of(study: Study, wanted: Wanted) -> tuple[TargetRow, ...]:
    """Return the target's rows that are the constituent and nothing else."""
    touched = [row for row in study.target.rows if row.kind == "named" and row.members & wanted.members]
    if not touched:
        raise UsageError(f"the target has no row of {wanted.name}: nothing to multiply.")
    for row in touched:
        own = {name for name in row.members if name not in wanted.members}
        if own - _sums(study, wanted):
            raise UsageError(f'the target reports {wanted.name} within "{row.label}": name that row.')
    return tuple(touched)


def _sums(study: Study, wanted: Wanted) -> set[str]:
    """Return the sums of isomers that hold the constituent."""
    return {known.name for known in study.constituents.values() if set(known.members) & wanted.members}


def multiplied(study: Study, wanted: Wanted, rows: Sequence[TargetRow], times: float) -> Multiplied:
    """Return the study with these rows at a multiple of their share, the others in their ratios."""
    before = sum(row.share for row in rows)
    after = times * before
    if not times and all(row.kind != "named" or row.share == 0 or row in rows for row in study.target.rows):
        return Multiplied(study, f"without {wanted.name} nothing of the target would be left")
    if after >= 1:
        return Multiplied(study, f"{times:g} times {wanted.name} would be {after * 100:.3g} % of the whole")
    others = (1 - after) / (1 - before) if before < 1 else 1.0
    multiples = {row.label: others for row in study.target.rows} | {row.label: times for row in rows}
    return Multiplied(with_multiples(study, multiples))


def besides(base: Judgement, found: Judgement, rows: Sequence[TargetRow]) -> dict[str, float]:
    """Return the gram of each row, those multiplied aside, more than the base's ratios give (less: below 0)."""
    chosen = {row.label for row in rows}
    before, after = ({r.row.label: r.achieved for r in judged.residuals} for judged in (base, found))
    others = [r.row.label for r in base.residuals if r.row.kind == "named" and r.row.label not in chosen]
    was = math.fsum(before[label] for label in others)
    ratio = math.fsum(after[label] for label in others) / was if was > 0 else 1.0
    more = {label: after[label] - ratio * before.get(label, 0.0) for label in after if label not in chosen}
    grams = {label: share * found.totals.named_g for label, share in more.items() if abs(share) > WORTH_NAMING}
    return dict(sorted(grams.items(), key=lambda item: (-abs(item[1]), item[0])))


def _fitted(study: Study, programme: Programme, budget: Budget, before: Fit | None) -> Fit | NoFormula | NoAnswer:
    try:
        return fit(study, budget, programme, before=before)
    except (NoFormula, NoAnswer) as fault:
        return fault


def _share(judged: Judgement, rows: Sequence[TargetRow]) -> float:
    """Return what a formula holds of these rows, of the accord."""
    labels = {row.label for row in rows}
    return sum(residual.achieved for residual in judged.residuals if residual.row.label in labels)


def _made(found: Fit | NoFormula | NoAnswer, step: Step, rows: Sequence[TargetRow]) -> tuple[Step, bool]:
    """Return a step with its formula, or why it has none, and whether that is proven."""
    if not isinstance(found, Fit):
        return replace(step, refused=" ".join(str(found).split()).removesuffix(".")), isinstance(found, NoFormula)
    labels, share = sorted(row.label for row in rows), _share(found.judged, rows)
    limits = restricted(found.judged.limits)
    reached = share / sum(row.share for row in rows)
    missed = abs(reached - step.times) > MISSED * step.times if step.times else share > WORTH_NAMING
    said = (sentence(found.reasons, label) for label in labels)
    return replace(
        step,
        base_g=found.judged.totals.total_g,
        judged=replace(found.judged, limits=limits),
        share=share,
        times_reached=reached,
        held="; ".join(dict.fromkeys(filter(None, said))) if missed else "",
    ), found.answer.status == "proven"
