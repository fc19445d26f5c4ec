"""Vials of one strength: a neat oil beside a diluted trial rewards strength, not likeness."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from reaccord.domain.study import Study
from reaccord.findings import UsageError
from reaccord.study.smallest_mass import grams_of

REFERENCE = "reference"
"""The original itself, which holds no carrier."""


@dataclass(frozen=True)
class Vial:
    """Gram of a sample and of solvent; `strength` is the share without carrier that these grams make."""

    sample: str
    sample_g: float
    solvent_g: float
    strength: float


def solvent_of(study: Study) -> str:
    """Return what vials are diluted with: the carrier of the study's dilutions, else the commonest on the shelf."""
    if study.settings.dilutions is not None:
        return next((s.key.carrier for s in study.stocks if s.recipe), study.settings.dilutions.carrier)
    carriers = sorted(stock.key.carrier for stock in study.stocks if stock.key.carrier)
    return max(carriers, key=carriers.count, default="carrier")


def equal_strength(active: Mapping[str, float], strength: float, vial_g: float, step: float) -> tuple[Vial, ...]:
    """Return what to weigh of each sample for vials of one strength.

    Parameters
    ----------
    active
        Share of each sample that is no carrier.
    strength, vial_g
        Share without carrier that is wanted in the vial, and gram of the vial.
    step
        Of the balance, gram; 0: no grid.

    Raises
    ------
    UsageError
        If a sample is weaker than that, or a vial too small for the balance.
    """
    weaker = min(active, key=lambda name: active[name])
    if active[weaker] < strength * (1 - 1e-9):
        known = f"{math.floor(active[weaker] * 1000) / 10:g} %"
        raise UsageError(f"--strength {strength * 100:g} %: the {weaker} is only {known} without its carrier.")
    vials = tuple(_vial(name, share, (strength, vial_g), step) for name, share in active.items())
    if any(vial.sample_g <= 0 for vial in vials):
        raise UsageError(f"--vial-g {vial_g:g}: less than one step of the balance would be in it; take larger vials.")
    return vials


def _vial(name: str, share: float, wanted: tuple[float, float], step: float) -> Vial:
    strength, vial_g = wanted
    sample = _nearest(strength * vial_g / share, step)
    solvent = max(0.0, _nearest(sample * share / strength - sample, step)) if sample > 0 else 0.0
    return Vial(name, sample, solvent, sample * share / (sample + solvent) if sample > 0 else 0.0)


def _nearest(grams: float, step: float) -> float:
    return grams_of(math.floor(grams / step + 0.5), step) if step > 0 else grams
