"""What is claimed of a formula: how close it is, what of that is proven, and what rounding did to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reaccord.answer.judge import Judgement
from reaccord.domain.study import Study
from reaccord.report.layout import counted
from reaccord.report.quantities import percent, rough_percent

if TYPE_CHECKING:
    from reaccord.answer.fit import Ended, Fit

FOUND: dict[Ended, str] = {
    "": "The best formula found",
    "time": "The best formula found in the time given",
    "interrupted": "Interrupted. The best formula found until then",
}
ANOTHER_BATCH = 0.01
"""Relative; a formula that misses the batch by less is one for it. Rounding misses by up to a step a line."""
BARELY = 1e-3
"""Relative; rounding that moves the deviation by less than this needs no word in the verdict."""


def wrong_text(judged: Judgement) -> str:
    """Return how much of a formula is not what it should be."""
    return f"{percent(judged.closeness.misplaced_share, 1)} of it is the wrong substance."


def broken_text(judged: Judgement) -> str:
    """Return whether a formula holds every limit, and which it does not."""
    broken = judged.broken
    if not broken:
        return "It holds every limit."
    return f"It breaks {counted(len(broken), 'limit')}: {', '.join(s.label for s in broken)}."


def batch_text(study: Study, judged: Judgement) -> str:
    """Return how much a formula makes of what the study asks for; nothing where that is the batch."""
    batch, made = study.settings.batch.accord_g, made_g(study, judged)
    short = abs(made - batch) > ANOTHER_BATCH * batch
    return f" It makes {made:.4g} g instead of {batch:g} g." if short else ""


def made_g(study: Study, judged: Judgement) -> float:
    """Return the grams of the batch that count: of the target's constituents, of all odorants with an open rest."""
    return judged.totals.named_g + (judged.totals.foreign_g if study.target.rest == "open" else 0.0)


def verdict_text(fit: Fit) -> str:
    """Return what is claimed of the answer, in a sentence or two."""
    bottles = sum(stock.recipe is None for stock in fit.study.stocks)
    before = " before rounding" if _rounding_tells(fit) else ""
    if fit.answer.status == "proven":
        proof = f"proven within {rough_percent(max(fit.gap, 1e-6))}" if fit.gap > 1e-6 else "proven"
        allow = f"these {bottles} bottles allow" if bottles != 1 else "this bottle allows"
        return f"The closest formula {allow}, {proof}{before}{_shortened(fit)}: {wrong_text(fit.judged)}"
    shelf = f"these {bottles} bottles" if bottles != 1 else "this bottle"
    return (
        f"{FOUND[fit.ended]} with {shelf}{_shortened(fit)}, not proven: another may be up to "
        f"{rough_percent(fit.gap)} closer{before}. {wrong_text(fit.judged)}"
    )


def _shortened(fit: Fit) -> str:
    return f", shortened to {counted(len(fit.judged.lines), 'line')}" if fit.shorter else ""


def shorter_text(fit: Fit) -> list[str]:
    """Say what the closest formula of all would need, where a shorter one is poured; both before rounding."""
    if fit.shorter is None:
        return []
    lines, closest = counted(len(fit.judged_before.lines), "line"), fit.judged_before.closeness.value
    closer = rough_percent(max(1 - closest / fit.shorter.closeness.value, 1e-6))
    return [f"The closest of all needs {lines} and is {closer} closer."]


def _rounding_tells(fit: Fit) -> bool:
    """Whether what is proven before rounding says little of the rounded formula."""
    before, after = fit.rounded_from.closeness.value, fit.judged.closeness.value
    return abs(after - before) > BARELY * before + 1e-9


def proof_text(fit: Fit) -> list[str]:
    """Say what is proven and of what, then what rounding did to it: the bound is none of rounded formulas."""
    from reaccord.contract import NEARLY_ZERO  # brings numpy, which `compare` does without

    before, after = fit.judged_before.closeness.value, fit.judged.closeness.value
    seconds = f"Searched for {fit.answer.seconds:.1f} s."
    if max(before, after) <= NEARLY_ZERO:
        return [seconds]
    settings = fit.study.settings
    batch = f"exactly {settings.batch.accord_g:g} g of the target's constituents"
    said = f"Deviation {before:.6g} ({settings.fit.measure}, {settings.fit.scale}), bound {fit.bound:.6g}, for {batch}"
    if not any(line.stock.step_g for line in fit.judged.lines):
        return [f"{said}.", seconds]
    return [f"{said}, before rounding.", _rounded(fit), seconds]


def _rounded(fit: Fit) -> str:
    before, after = fit.rounded_from.closeness.value, fit.judged.closeness.value
    balance = fit.study.settings.balance
    text = f"Rounded to {f'{balance.readability_g:g} g' if balance else 'whole steps'}: {after:.6g}"
    if after < before:
        text += f", {rough_percent(max(1 - after / before, 1e-6))} less{_other_batch(fit)}"
    elif before > 0:
        text += f", {rough_percent(max(after / before - 1, 1e-6))} more"
    return f"{text}. Rounding is a search, not a proof." if _rounding_tells(fit) else f"{text}."


def _other_batch(fit: Fit) -> str:
    """Say why a rounded formula can be closer than any for exactly the batch: it makes another one."""
    batch, made = fit.study.settings.batch.accord_g, made_g(fit.study, fit.judged)
    return "" if abs(made - batch) <= 1e-6 * batch else f", as it makes {made:.6g} g instead of {batch:g} g"
