"""Versions of the solver libraries, looked up once: their files are read for it."""

from __future__ import annotations

from functools import cache
from importlib import metadata


@cache
def version(library: str) -> str:
    """Return the version of an installed library."""
    return metadata.version(library)
