"""HTML from templates: whatever a name holds, it is text and never markup."""

from __future__ import annotations

from typing import Any


def page(template: str, **values: Any) -> str:
    """Return a template of `templates/` filled in."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("reaccord.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return made.get_template(template).render(**values)
