"""A series of vials in which one minor constituent is there at given multiples and nothing else moves."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from reaccord.answer.judge import Judgement, judge
from reaccord.answer.limits_held import LimitState
from reaccord.balance import spike
from reaccord.balance.codes import seed_of, three_digit_codes
from reaccord.balance.dilution import Making, stocks_to_make
from reaccord.balance.equal_strength import solvent_of
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.questions.overdose.wanted import MOST_STEPS, Wanted
from reaccord.study.smallest_mass import grams_of, steps_down


@dataclass(frozen=True)
class Step:
    """One vial; a `refused` one is listed with its reason and not made.

    Gram throughout: `base_g` of the base batch, `spike_g` of the stock, `solvent_g` of carrier for equal strength.
    `share` is the constituent's, of the basis; `times_reached` is worked out from the poured grams, `half_step` is
    what half a step of the balance moves it. `brought` is what the spike brings besides the constituent (solved
    again: what there is more of than the base's ratios give, or less: below 0), `judged` are shares and limits of the
    vial, `held` says why a multiple that was solved for is missed.
    """

    of: str
    times: float
    base_g: float
    stock: Stock | None = None
    spike_g: float = 0.0
    share: float = 0.0
    times_reached: float = 1.0
    half_step: float = 0.0
    smallest_vial_g: float | None = None
    brought: Mapping[str, float] | None = None
    judged: Judgement | None = None
    refused: str | None = None
    code: str = ""
    solvent_g: float = 0.0
    held: str = ""

    @property
    def vial_g(self) -> float:
        """Gram in the vial before it is diluted to equal strength."""
        return self.base_g + self.spike_g

    @property
    def limits(self) -> tuple[LimitState, ...]:
        """The restricted limits at this step."""
        return () if self.judged is None else self.judged.limits

    @property
    def active_g(self) -> float:
        """Gram without carrier."""
        return 0.0 if self.judged is None else self.judged.totals.total_g - self.judged.totals.carrier_g


@dataclass(frozen=True)
class Series:
    """The vials of a series in the order asked for, the base they come from and the stocks to make for both.

    `base_needed_g` is what the vials take of the base, `batches` how many batches of the base that is.
    `concentration` is the carrier-free share that all made vials have after dilution with `solvent`; where they are
    batches of their own, so has the base beside them, with `base_solvent_g` in its batch.
    """

    study: Study
    mode: str
    base: Judgement
    steps: tuple[Step, ...]
    base_needed_g: float
    batches: int
    concentration: float | None
    solvent: str
    stocks: tuple[Making, ...]
    proven: bool = True
    base_solvent_g: float = 0.0


def overdose(
    study: Study,
    base: Mapping[StockKey, float],
    wanted: Sequence[Wanted],
    times: Sequence[float],
    vial_g: float | None = None,
) -> Series:
    """Return the series made by spiking parts of one base batch, `base` gram by stock.

    Parameters
    ----------
    wanted, times
        The constituents, and the multiples of the share each has in the base (at least 1).
    vial_g
        Gram of base in each vial; by default one batch is shared among the vials.

    Raises
    ------
    UsageError
        If the base holds nothing of a constituent, or less of the bottles is left than the base takes.
    """
    judged, count = judge(study, base), len(wanted) * len(times)
    if count > MOST_STEPS:
        raise UsageError(f"{count} vials are more than there are three-digit codes for ({MOST_STEPS}).")
    total = judged.totals.total_g
    base_g = _base_per_vial(study, total / count if vial_g is None else vial_g)
    batches = max(1, math.ceil(base_g * count / total - 1e-9))
    spiking = _Spiking(study, base, base_g, total, batches)
    steps, concentration = at_equal_strength(study, [spiking.step(one, n) for one in wanted for n in times])
    return Series(
        study=study,
        mode="spike",
        base=judged,
        steps=coded(study, steps, "spike"),
        base_needed_g=math.fsum(item.base_g for item in steps if not item.refused),
        batches=batches,
        concentration=concentration,
        solvent=solvent_of(study),
        stocks=stocks_to_make(study, spiking.taken) if any(not item.refused for item in steps) else (),
    )


def _base_per_vial(study: Study, wanted_g: float) -> float:
    """Return the base in each vial, on the grid of the balance."""
    step = study.settings.balance.readability_g if study.settings.balance else 0.0
    base_g = grams_of(steps_down(wanted_g, step), step) if step else wanted_g
    if base_g <= 0:
        raise UsageError(f"a vial of {wanted_g:g} g is less than one step of the balance.")
    return base_g


class _Spiking:
    """One base, and what is taken of every stock so far: by the base and by spikes."""

    def __init__(
        self, study: Study, base: Mapping[StockKey, float], base_g: float, total_g: float, batches: int
    ) -> None:
        self.study, self.base_g = study, base_g
        self.known = {s.key: s for s in study.every_stock}
        self.part = {key: grams * base_g / total_g for key, grams in base.items() if grams > 0}
        self.of_base = {key: grams * batches for key, grams in base.items() if grams > 0}
        self.taken = dict(self.of_base)
        short = self._short({})
        if short:
            raise UsageError(
                f"the base for these vials takes more than there is. {short.rstrip('.')}. Smaller vials need less."
            )

    def step(self, wanted: Wanted, times: float) -> Step:
        """Return one vial.

        Raises
        ------
        UsageError
            If the base holds nothing of the constituent.
        """
        parts = [
            spike.portion_of(self.study, self.known[key], wanted.members).times(grams)
            for key, grams in self.part.items()
        ]
        base = spike.Portion(math.fsum(p.held for p in parts), math.fsum(p.basis for p in parts))
        if base.held <= 0:
            raise UsageError(f"the base holds no {wanted.name}: there is nothing to multiply.")
        if times == 1:
            return self._judged(Step(wanted.name, times, self.base_g, share=base.share))
        stocks = spike.best_stocks(self.study, wanted.members)
        if not stocks:
            return Step(wanted.name, times, self.base_g, refused=f"no bottle that may be used holds {wanted.name}")
        return self._spiked(wanted, times, base, stocks)

    def _spiked(self, wanted: Wanted, times: float, base: spike.Portion, stocks: tuple[Stock, ...]) -> Step:
        share, best = times * base.share, Step(wanted.name, times, self.base_g)
        too_small: list[tuple[float, str]] = []
        short = ""
        for stock in stocks:
            portion = spike.portion_of(self.study, stock, wanted.members)
            exact = spike.spike_grams(base, portion, share)
            if exact is None:
                rich = f"{portion.share * 100:.3g} %" if portion.basis > 0 else "less"
                why = f"{share * 100:.3g} % is wanted, the best stock, {stock.key.material}, holds {rich} itself"
                return replace(best, refused=why)
            least = spike.smallest_vial(stock, exact, self.base_g, stock.step_g)
            if not spike.weighable(stock, exact):
                too_small.append((least or 0.0, f"{exact:.2g} g of {stock.label} cannot be weighed"))
                continue
            grams = spike.on_its_grid(stock, exact)
            short = self._short({stock.key: grams})
            if short:
                continue
            found = self._measured(replace(best, stock=stock, spike_g=grams, smallest_vial_g=least), base, portion)
            found = self._judged(replace(found, brought=spike.brought(stock, grams, wanted.members)))
            if not found.refused:
                self.taken[stock.key] = self.taken.get(stock.key, 0.0) + grams
            return found
        if too_small:
            least, why = min(too_small)
            larger = self._short({key: grams * (least / self.base_g - 1) for key, grams in self.of_base.items()})
            if larger:
                return replace(best, refused=f"{why}, and for larger vials there is too little of {larger}")
            return replace(best, smallest_vial_g=least, refused=f"{why}; a vial takes {least:g} g of base at least")
        return replace(best, refused=short)

    def _measured(self, step: Step, base: spike.Portion, portion: spike.Portion) -> Step:
        """Return the step with the multiple that the poured grams make."""
        grid = step.stock.step_g if step.stock else 0.0

        def reached(grams: float) -> float:
            return base.plus(portion.times(grams)).share / base.share

        here = reached(step.spike_g)
        half = max(reached(step.spike_g + grid / 2) - here, here - reached(max(0.0, step.spike_g - grid / 2)))
        return replace(step, share=here * base.share, times_reached=here, half_step=half)

    def _judged(self, step: Step) -> Step:
        amounts = dict(self.part)
        if step.stock is not None:
            amounts[step.stock.key] = amounts.get(step.stock.key, 0.0) + step.spike_g
        judged = judge(self.study, amounts)
        judged = replace(judged, limits=restricted(judged.limits))
        broken = [sentence(state) for state in judged.limits if not state.held]
        return replace(step, judged=judged, refused="; ".join(broken) or None)

    def _short(self, more: Mapping[StockKey, float]) -> str:
        """Return what there is too little of, or nothing."""
        amounts = dict(self.taken)
        for key, grams in more.items():
            amounts[key] = amounts.get(key, 0.0) + grams
        for state in judge(self.study, amounts).limits:
            if state.key.kind == "on hand" and not state.held:
                return f"{state.label}: {state.limit:g} g, the series takes {state.value:.4g} g"
        return ""


def restricted(limits: Sequence[LimitState]) -> tuple[LimitState, ...]:
    """Return the limits on restricted substances."""
    return tuple(state for state in limits if state.key.kind == "restricted")


def sentence(state: LimitState) -> str:
    """Say how a restricted limit is broken."""
    if state.unit == "ratio":
        return f"{state.label}: {state.value:.4g} of 1"
    return f"{state.label}: {state.value * 100:.4g} % in the product, at most {state.limit * 100:.4g} %"


def at_equal_strength(study: Study, listed: Sequence[Step]) -> tuple[tuple[Step, ...], float | None]:
    """Return the steps with the carrier that brings all made vials to one carrier-free concentration."""
    balance = study.settings.balance
    solvent = solvent_of(study)
    bottles = [s for s in study.stocks if solvent in s.content.typical and s.carrier_share > 0.5 and not s.recipe]
    least = min((s.minimum_g for s in bottles), default=balance.readability_g if balance else 0.0)
    made = {str(n): (s.vial_g, s.active_g) for n, s in enumerate(listed) if not s.refused}
    added = spike.solvent_for(made, least, balance.readability_g if balance else 0.0)
    steps = tuple(replace(s, solvent_g=added.get(str(n), 0.0)) for n, s in enumerate(listed))
    shares = [s.active_g / (s.vial_g + s.solvent_g) for s in steps if not s.refused]
    return steps, math.fsum(shares) / len(shares) if shares else None


def coded(study: Study, steps: tuple[Step, ...], mode: str) -> tuple[Step, ...]:
    """Return the steps with a three-digit code for each made vial: the same study and series, the same codes."""
    asked = [f"{step.of} {step.times!r}" for step in steps]
    seed = seed_of(study.title, mode, *sorted(item.sha256 for item in study.inputs), *asked)
    codes = iter(three_digit_codes(len(steps), seed))
    drawn = [next(codes) for _ in steps]
    return tuple(replace(s, code="" if s.refused else code) for s, code in zip(steps, drawn, strict=True))
