"""The study file, typed. One class a section, named as in the file; shares are fractions."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import Literal

from reaccord.domain.lines import Basis

Measure = Literal["squares", "absolute", "worst"]
Scale = Literal["equal", "proportional", "relative"]


@dataclass(frozen=True)
class TargetSettings:
    """`[target]`. `samples` empty: every sample column of the table."""

    table: str
    samples: tuple[str, ...] = ()
    combine: Literal["mean", "band"] = "mean"
    basis: Basis = "mass"
    rest: Literal["close", "open"] = "close"


@dataclass(frozen=True)
class ShelfSettings:
    """`[shelf]`. `overdue` says what to do with a bottle past its date."""

    bottles: str
    compositions: str = ""
    constituents: str = ""
    overdue: Literal["keep", "exclude"] = "keep"


@dataclass(frozen=True)
class BatchSettings:
    """`[batch]`: gram of the basis wanted, and the most carrier in the batch."""

    accord_g: float
    carrier_max_g: float | None = None


@dataclass(frozen=True)
class BalanceSettings:
    """`[balance]`. `tolerance` is a fraction; see `reaccord.study.smallest_mass` for the smallest mass."""

    readability_g: float
    minimum_g: float | None = None
    tolerance: float | None = None
    repeatability_g: float | None = None


@dataclass(frozen=True)
class DilutionSettings:
    """`[dilutions]`: strengths that may be made for this batch, in `carrier`; at most `most` are made."""

    strengths: tuple[float, ...]
    carrier: str
    most: int | None = None


@dataclass(frozen=True)
class AmountSettings:
    """One `[[limits.amount]]`: gram of neat material."""

    material: str
    at_least_g: float | None = None
    at_most_g: float | None = None
    exactly_g: float | None = None


@dataclass(frozen=True)
class LimitSettings:
    """`[limits]`. `cost_per_kg` is per kg of accord, `dosage` gram of accord per gram of finished product."""

    cost_per_kg: float | None = None
    lines: int | None = None
    undeclared: float | None = None
    exclude: tuple[str, ...] = ()
    table: str = ""
    product: str = ""
    dosage: float | None = None
    use: Literal["", "leave-on", "rinse-off", "not cosmetic"] = ""
    amounts: tuple[AmountSettings, ...] = ()


@dataclass(frozen=True)
class FitSettings:
    """`[fit]`: what closeness means, and the part of it that may go into a shorter formula (`shorten`)."""

    measure: Measure = "squares"
    scale: Scale = "proportional"
    floor: float = 0.001
    foreign_floor: float = 0.05
    shorten: float = 0.005


@dataclass(frozen=True)
class Settings:
    """A whole study file. `file` is its name, for findings."""

    file: str
    title: str
    date: datetime.date
    target: TargetSettings
    shelf: ShelfSettings
    batch: BatchSettings
    balance: BalanceSettings | None = None
    dilutions: DilutionSettings | None = None
    limits: LimitSettings = field(default_factory=LimitSettings)
    fit: FitSettings = field(default_factory=FitSettings)
