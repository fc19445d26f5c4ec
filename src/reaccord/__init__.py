"""The closest accord you can really weigh from the bottles on your shelf.

>>> import reaccord
>>> study = reaccord.load_study("examples/geranium/study.toml")  # doctest: +SKIP
>>> reaccord.fit(study).formula  # doctest: +SKIP
"""

from __future__ import annotations

from importlib import import_module

TYPE_CHECKING = False  # that of `typing`, which takes half the time in which the command cannot hear Ctrl-C
if TYPE_CHECKING:
    from typing import Any

    from reaccord.answer.as_cvxpy import as_cvxpy, judge_amounts
    from reaccord.answer.fit import fit
    from reaccord.answer.fitted import Fit
    from reaccord.answer.judge import Judgement, judge
    from reaccord.contract import Budget
    from reaccord.domain.study import Study
    from reaccord.findings import Finding, InvalidInput, NoAnswer, NoFormula, ReaccordError
    from reaccord.report.notebook import as_html
    from reaccord.study.load import load_study, study_from_frames

__all__ = [
    "Budget",
    "Finding",
    "Fit",
    "InvalidInput",
    "Judgement",
    "NoAnswer",
    "NoFormula",
    "ReaccordError",
    "Study",
    "as_cvxpy",
    "as_html",
    "fit",
    "judge",
    "judge_amounts",
    "load_study",
    "study_from_frames",
]
__version__ = "0.1.0"
SCHEMA = 2
"""Of results as JSON: raised when the meaning of a key changes (CHANGELOG)."""

_ROOMS = {
    "Budget": "contract",
    "Finding": "findings",
    "Fit": "answer.fitted",
    "InvalidInput": "findings",
    "Judgement": "answer.judge",
    "NoAnswer": "findings",
    "NoFormula": "findings",
    "ReaccordError": "findings",
    "Study": "domain.study",
    "as_cvxpy": "answer.as_cvxpy",
    "as_html": "report.notebook",
    "fit": "answer.fit",
    "judge": "answer.judge",
    "judge_amounts": "answer.as_cvxpy",
    "load_study": "study.load",
    "study_from_frames": "study.load",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for: start-up is part of the product."""
    if name not in _ROOMS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_ROOMS[name]}"), name)
    globals()[name] = found
    return found
