"""The words of a command line as text and paths, without what the parser loads to convert them (pydantic, 60 ms)."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from typer.core import TyperCommand, TyperGroup

KINDS: Mapping[Any, Callable[[Any], Any]] = {
    bool: bool,
    str: str,
    list[str]: str,
    Path: Path,
    list[Path]: Path,
}
"""What our parameters are; the parser itself converts any other."""


class PlainGroup(TyperGroup):
    """The commands, their own parameters taken as they are written."""

    def get_params(self, ctx: Any) -> Any:
        """Return the parameters, that of help among them."""
        return _as_written(super().get_params(ctx))


class PlainCommand(TyperCommand):
    """A command whose text and paths are taken as they are written."""

    def get_params(self, ctx: Any) -> Any:
        """Return the parameters, that of help among them."""
        return _as_written(super().get_params(ctx))


def _as_written(parameters: Iterable[Any]) -> list[Any]:
    found = list(parameters)
    for parameter in found:
        declared = getattr(parameter, "type_descriptor", None)  # a typer without it converts without pydantic
        kind = KINDS.get(declared.annotation) if declared is not None else None
        if kind is not None:
            parameter._runtime_param = _Plain(kind)
    return found


class _Plain:
    """What a parameter asks to convert its words."""

    def __init__(self, kind: Callable[[Any], Any]) -> None:
        self._kind = kind

    def coerce(self, value: Any, param: Any, ctx: Any) -> Any:
        """Return the word, or all of them where there may be several, as text or paths."""
        del ctx
        if param.multiple or param.nargs == -1:
            return [self._kind(word) for word in value or ()]
        return None if value is None else self._kind(value)
