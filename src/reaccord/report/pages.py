"""HTML from templates: whatever a name holds, it is text and never markup."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jinja2 import Environment

OURS = "reaccord.report"


def page(template: str, room: str = OURS, **values: Any) -> str:
    """Return a template filled in: one of that room's `templates/`, which may use those of `report`."""
    return _environment(room).get_template(template).render(**values)


def part(template: str, macro: str, room: str = OURS, /, *values: Any) -> str:
    """Return what a macro of a template makes of the values: a piece of a page."""
    return str(getattr(_environment(room).get_template(template).module, macro)(*values))


@cache
def _environment(room: str) -> Environment:
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=ChoiceLoader([PackageLoader(each) for each in dict.fromkeys((room, OURS))]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
