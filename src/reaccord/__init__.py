"""The closest accord you can really weigh from the bottles on your shelf.

>>> import reaccord
>>> study = reaccord.load_study("examples/geranium/study.toml")  # doctest: +SKIP
>>> reaccord.fit(study).formula  # doctest: +SKIP
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType

TYPE_CHECKING = False  # that of `typing`, which takes half the time in which the command cannot hear Ctrl-C
if TYPE_CHECKING:
    from typing import Any

    from reaccord.contract import Effort
    from reaccord.findings import Finding, InvalidInput, NoAnswer, NoFormula, ReaccordError
    from reaccord.fit import Fit, fit
    from reaccord.judge import Judgement, judge
    from reaccord.load import Study, load_study

__all__ = [
    "Effort",
    "Finding",
    "Fit",
    "InvalidInput",
    "Judgement",
    "NoAnswer",
    "NoFormula",
    "ReaccordError",
    "Study",
    "fit",
    "judge",
    "load_study",
]
__version__ = "0.1.0"

_ROOMS = {
    "Effort": "contract",
    "Finding": "findings",
    "Fit": "fit",
    "InvalidInput": "findings",
    "Judgement": "judge",
    "NoAnswer": "findings",
    "NoFormula": "findings",
    "ReaccordError": "findings",
    "Study": "load",
    "fit": "fit",
    "judge": "judge",
    "load_study": "load",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for: start-up is part of the product."""
    if name not in _ROOMS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = getattr(import_module(f"{__name__}.{_ROOMS[name]}"), name)
    globals()[name] = found
    return found


class _Package(ModuleType):
    """Python binds an imported module to its package: `fit` and `judge` must stay the functions."""

    def __setattr__(self, name: str, value: Any) -> None:
        public = name in _ROOMS and isinstance(value, ModuleType)
        super().__setattr__(name, getattr(value, name) if public else value)


sys.modules[__name__].__class__ = _Package
