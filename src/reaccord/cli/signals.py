"""Ctrl-C and SIGTERM, heard from the first moment of a run; nothing is imported here that takes time."""

from __future__ import annotations

import os
import signal
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any

INTERRUPTED = 130
"""Exit code."""
ENDING = (signal.SIGINT, signal.SIGTERM)
_heard: list[int] = []


class Ended(KeyboardInterrupt):
    """One came.

    A class of its own, as Python dies of SIGINT in the end where KeyboardInterrupt itself left an `exec`.
    """


def listen() -> None:
    """Let either signal end the run by `Ended`; one that is ignored (`nohup`, `&`) stays ignored."""
    sys.unraisablehook = _tell_unraisable
    for number in ENDING:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, end)


def hear() -> None:
    """Keep in mind that Ctrl-C came before anything listened."""
    _heard.append(signal.SIGINT)


def heard() -> bool:
    """Whether one came.

    An import cut short by KeyboardInterrupt may fail in its own way: numpy says that it is broken.
    """
    return bool(_heard)


def heed() -> None:
    """End the run if one came whose `Ended` was lost: Python only prints what is raised while it collects garbage."""
    if heard():
        raise Ended


def let_go() -> None:
    """Let either signal end the process at once: all that is left to do is to say so, or to exit."""
    for number in ENDING:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, _leave)


def fall_silent() -> None:
    """Hear neither signal any more: all is said, and the exit code has to agree with it."""
    for number in ENDING:
        signal.signal(number, signal.SIG_IGN)


def end(number: int, frame: object) -> None:
    """Take a signal: end what runs."""
    _heard.append(number)
    raise Ended


def _leave(number: int, frame: object) -> None:
    """Take a signal: exit without another word."""
    os._exit(INTERRUPTED)


def _tell_unraisable(unraisable: Any) -> None:
    """Print what Python cannot raise, as ever, but not that one of the signals came: `heed` ends the run for that."""
    if not issubclass(unraisable.exc_type, Ended):
        sys.__unraisablehook__(unraisable)
