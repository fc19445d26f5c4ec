"""What is claimed of a formula: how close it is, what of that is proven, and what rounding did to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reaccord.answer.judge import Judgement
from reaccord.domain.settings import FitSettings
from reaccord.domain.study import Study
from reaccord.report.layout import counted
from reaccord.report.quantities import percent, rough_percent

if TYPE_CHECKING:
    from reaccord.answer.fitted import Ended, Fit

FOUND: dict[Ended, str] = {
    "": "closest so far",
    "time": "closest found in the time given",
    "interrupted": "interrupted, closest so far",
}
ANOTHER_BATCH = 0.01
"""Relative; a formula that misses the batch by less is one for it. Rounding misses by up to a step a line."""
BARELY = 1e-3
"""Relative; proven within this it is called the closest; rounding that moves the deviation by less needs no word."""
UNSEEN = 5e-7
"""Relative; rounding that moves the deviation by less is not told at all."""
KNOWN = 0.995
"""A gap above this says nothing of how close a formula could be."""
FIGURES = 4


def standing(judged: Judgement) -> str:
    """Return how much of a formula is not what it should be, and how much nobody can say."""
    return f"{percent(judged.closeness.misplaced_share, 1)} wrong, {percent(unnamed(judged), 1)} unnamed"


def unnamed(judged: Judgement) -> float:
    """Return the share of what is poured without carrier that nobody declares."""
    totals = judged.totals
    return totals.undeclared_g / (totals.total_g - totals.carrier_g)


def broken_text(judged: Judgement) -> str:
    """Return whether a formula holds every limit, and which it does not."""
    broken = judged.broken
    if not broken:
        return "holds every limit"
    return f"breaks {counted(len(broken), 'limit')}: {', '.join(s.label for s in broken)}"


def batch_text(study: Study, judged: Judgement) -> str:
    """Return how much a formula makes of what the study asks for; nothing where that is the batch."""
    batch, made = study.settings.batch.accord_g, made_g(study, judged)
    short = abs(made - batch) > ANOTHER_BATCH * batch
    return f" It makes {made:.4g} g instead of {batch:g} g." if short else ""


def made_g(study: Study, judged: Judgement) -> float:
    """Return the grams of the batch that count: of the target's constituents, of all odorants with an open rest."""
    return judged.totals.named_g + (judged.totals.foreign_g if study.target.rest == "open" else 0.0)


def from_bottles(study: Study) -> str:
    """Return what was to pour from."""
    bottles = sum(stock.recipe is None for stock in study.stocks)
    return f"from these {bottles} bottles" if bottles != 1 else "from this bottle"


SEARCH = "Rounding is a search, not a proof."


def certainty_word(fit: Fit) -> str:
    """Return how sure the verdict is, as the word that a page marks it with."""
    return "proven" if fit.answer.status == "proven" else FOUND[fit.ended]


def verdict_text(fit: Fit, *, marked: bool = False) -> str:
    """Return what is claimed of the answer, in a sentence; `marked` where `certainty_word` stands beside it."""
    from reaccord.contract import gap_of  # brings numpy, which `compare` does without

    before = "before rounding " if rounding_tells(fit) else ""
    poured = gap_of(fit.rounded_from.closeness.value, fit.bound)  # a shorter formula is less close than the closest
    bottles, gap = from_bottles(fit.study), rough_percent(poured)
    if fit.answer.status == "proven":
        closer = "nothing closer" if poured <= BARELY else f"nothing more than {gap} closer"
        return f"{standing(fit.judged)}; {before}{closer} can be poured {bottles}."
    claim = f"{before}nothing {bottles} can be more than {gap} closer"
    unknown = f"how much closer one {bottles} could be is not known yet"
    found = "" if marked else f"{FOUND[fit.ended]}, "
    return f"{standing(fit.judged)}; {found}{claim if poured < KNOWN else unknown}."


def shorter_text(fit: Fit) -> list[str]:
    """Say what the closest formula of all would need, where a shorter one is poured; both before rounding."""
    if fit.shorter is None:
        return []
    lines, closest = counted(len(fit.judged_before.lines), "line"), fit.judged_before.closeness.value
    closer = rough_percent(max(1 - closest / fit.shorter.closeness.value, 1e-6))
    return [f"The closest of all needs {lines} and is {closer} closer."]


def beside_fit(printed: Fit | None, closest: Judgement, whose: str = "") -> list[str]:
    """Say what `fit` prints where a closest formula is another one: all commands that name one say it here."""
    if printed is None:
        return []
    one, other = closest, printed.judged
    if f"{one.closeness.value:.{FIGURES}g}" == f"{other.closeness.value:.{FIGURES}g}":
        return []
    return [
        f"The closest{whose} has {counted(len(one.lines), 'line')}, {percent(one.closeness.misplaced_share, 1)} wrong, "
        f"deviation {one.closeness.value:.{FIGURES}g}; reaccord fit pours one of {counted(len(other.lines), 'line')}, "
        f"{percent(other.closeness.misplaced_share, 1)}, {other.closeness.value:.{FIGURES}g}: shorter for a little "
        "closeness (fit.shorten)."
    ]


def rounding_tells(fit: Fit) -> bool:
    """Whether what is proven before rounding says little of the rounded formula."""
    before, after = fit.rounded_from.closeness.value, fit.judged.closeness.value
    return abs(after - before) > BARELY * before + 1e-9


def deviation_text(fit: Fit) -> str:
    """Return deviation, bound and what rounding did to it, on one line; blank where the target is met."""
    from reaccord.contract import NEARLY_ZERO  # brings numpy, which `compare` does without

    after = fit.judged.closeness.value
    if max(fit.judged_before.closeness.value, after) <= NEARLY_ZERO:
        return ""
    proven = " (proven)" if fit.answer.status == "proven" else ""
    said = f"{measured(fit.study)} {after:.{FIGURES}g}, at best {fit.bound:.{FIGURES}g}{proven}{_rounded(fit)}."
    weighed = f" {_weighed(fit)}" if rounding_tells(fit) else ""
    return f"{said}{weighed} reaccord help closeness"


def _weighed(fit: Fit) -> str:
    """Say what is proven of the formula as it is weighed."""
    from reaccord.contract import gap_of

    gap = gap_of(fit.judged.closeness.value, fit.rounded_bound)
    if gap <= BARELY:
        return "Nothing closer can be weighed."
    if fit.steps_proven and gap >= KNOWN:
        return "No other whole steps of these lines are closer."
    same = ", and no other steps of these lines closer at all" if fit.steps_proven else ""
    return f"Nothing that can be weighed is more than {rough_percent(gap)} closer{same}." if gap < KNOWN else SEARCH


def measured(study: Study) -> str:
    """Return what a deviation is called: by another measure than the usual one, with its name."""
    fit, usual = study.settings.fit, FitSettings()
    return (
        "Deviation"
        if (fit.measure, fit.scale) == (usual.measure, usual.scale)
        else (f"Deviation ({fit.measure}, {fit.scale})")
    )


def _rounded(fit: Fit) -> str:
    """Say what rounding to the grid did; a deviation of nearly nothing has no percentage."""
    from reaccord.contract import NEARLY_ZERO

    before, after = fit.rounded_from.closeness.value, fit.judged.closeness.value
    balance = fit.study.settings.balance
    if not any(line.stock.step_g for line in fit.judged.lines) or abs(after - before) <= UNSEEN * before:
        return ""
    to = f"rounding to {f'{balance.readability_g:g} g' if balance else 'whole steps'}"
    if after < before:
        return f"; {to} saved {rough_percent(1 - after / before)}{_other_batch(fit)}"
    if before <= NEARLY_ZERO:
        return f"; all of it comes of {to}"
    if after > 2 * before:
        return f"; before {to} it was {before:.2g}"
    return f"; {to} cost {rough_percent(after / before - 1)}"


def _other_batch(fit: Fit) -> str:
    """Say why a rounded formula can be closer than any for exactly the batch: it makes another one."""
    batch, made = fit.study.settings.batch.accord_g, made_g(fit.study, fit.judged)
    return "" if abs(made - batch) <= 1e-6 * batch else f", as it makes {made:.6g} g instead of {batch:g} g"
