"""Keeps a solver's own words off standard output, where JSON may be on its way."""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
import threading
from collections.abc import Iterator
from functools import cache


@contextlib.contextmanager
def quiet(*descriptors: int) -> Iterator[None]:
    """Send what compiled code prints on these descriptors (default: 1, standard output) to nowhere meanwhile.

    HiGHS prints a banner when it is made and, inside scipy 1.17.1, a debugging line now and then; the linear
    solver of SCIP fills standard error. Both come from C, so only the descriptor itself can be turned aside, and
    C's buffers must be emptied before it is turned back.
    """
    with contextlib.ExitStack() as stack:
        _flush()
        for descriptor in descriptors or (1,):
            _turn_aside(descriptor)
            stack.callback(_turn_back, descriptor)
        stack.callback(_flush_c)
        yield


_LOCK = threading.Lock()
_ASIDE: dict[int, tuple[int, int | None]] = {}
"""How many threads want a descriptor aside, and where it is kept (None: it was closed).

The first turns it and the last turns it back: threads that each kept what they found would keep each other's nowhere.
"""


def _turn_aside(descriptor: int) -> None:
    with _LOCK:
        if descriptor in _ASIDE:
            count, kept = _ASIDE[descriptor]
            _ASIDE[descriptor] = count + 1, kept
            return
        try:
            kept = os.dup(descriptor)
        except OSError:  # it is closed: nothing to protect
            _ASIDE[descriptor] = 1, None
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, descriptor)
        os.close(nowhere)
        _ASIDE[descriptor] = 1, kept


def _turn_back(descriptor: int) -> None:
    with _LOCK:
        count, kept = _ASIDE.pop(descriptor)
        if count > 1:
            _ASIDE[descriptor] = count - 1, kept
        elif kept is not None:
            os.dup2(kept, descriptor)
            os.close(kept)


def _flush() -> None:
    """Let go of what Python and C have still to say before they are silenced."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):  # a window program has none, a test may close it
            stream.flush()
    _flush_c()


def _flush_c() -> None:
    """Empty the output buffers of the C library (all streams)."""
    _c_library().fflush(None)


@cache
def _c_library() -> ctypes.CDLL:
    return ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None)
