"""Results as data frames."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from reaccord.answer.formula import formula_rows
from reaccord.answer.judge import Judgement
from reaccord.answer.why.reason import Reason
from reaccord.report.data import residual_rows


def formula_frame(judged: Judgement) -> pd.DataFrame:
    """Return material, strength, carrier, lot, grams, share (of the carrier-free mass), cost."""
    return pd.DataFrame(formula_rows(judged))


def residual_frame(judged: Judgement, reasons: Mapping[str, Reason]) -> pd.DataFrame:
    """Return one row a constituent; shares are fractions of the basis."""
    return pd.DataFrame(residual_rows(judged, reasons)).drop(columns="sources")
