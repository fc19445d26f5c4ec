"""Keeps a solver's own words off standard output, where JSON may be on its way."""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
from collections.abc import Iterator


@contextlib.contextmanager
def quiet(*descriptors: int) -> Iterator[None]:
    """Send what compiled code prints on these descriptors (default: 1, standard output) to nowhere meanwhile.

    The HiGHS inside scipy 1.17.1 leaves a debugging line on standard output now and then, whatever `disp`
    says; the linear solver of SCIP fills standard error. Both come from C, so only the descriptor itself can be
    turned aside, and C's buffers must be emptied before it is turned back.
    """
    with contextlib.ExitStack() as stack:
        _flush()
        for descriptor in descriptors or (1,):
            _turn_aside(descriptor, stack)
        stack.callback(_flush_c)
        yield


def _turn_aside(descriptor: int, stack: contextlib.ExitStack) -> None:
    try:
        kept = os.dup(descriptor)
    except OSError:  # it is closed: nothing to protect
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, descriptor)
    os.close(nowhere)
    stack.callback(os.close, kept)
    stack.callback(os.dup2, kept, descriptor)


def _flush() -> None:
    """Let go of what Python and C have still to say before they are silenced."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):  # a window program has none, a test may close it
            stream.flush()
    _flush_c()


def _flush_c() -> None:
    """Empty the output buffers of the C library (all streams)."""
    library = ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None)
    library.fflush(None)
