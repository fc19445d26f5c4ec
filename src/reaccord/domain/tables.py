"""Everything that was read, before names are reconciled."""

from __future__ import annotations

from dataclasses import dataclass

from reaccord.domain.lines import BottleLine, CompositionLine, ConstituentLine, LimitLine, TargetLine
from reaccord.domain.settings import Settings


@dataclass(frozen=True)
class InputFile:
    """A file as it was read: its name in the study and the SHA-256 of its bytes."""

    file: str
    sha256: str


@dataclass(frozen=True)
class Tables:
    """A study's settings and table rows.

    `samples` are the sample columns the target table has; `unread` the tables of which nothing could be read.
    """

    settings: Settings
    target: tuple[TargetLine, ...]
    samples: tuple[str, ...]
    bottles: tuple[BottleLine, ...]
    compositions: tuple[CompositionLine, ...] = ()
    constituents: tuple[ConstituentLine, ...] = ()
    limits: tuple[LimitLine, ...] = ()
    inputs: tuple[InputFile, ...] = ()
    unread: frozenset[str] = frozenset()
