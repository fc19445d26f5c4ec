"""Ctrl-C and SIGTERM, heard from the first moment of a run; nothing is imported here that takes time."""

from __future__ import annotations

import signal

ENDING = (signal.SIGINT, signal.SIGTERM)
_heard: list[int] = []


class Ended(KeyboardInterrupt):
    """One came.

    A class of its own, as Python dies of SIGINT in the end where KeyboardInterrupt itself left an `exec`.
    """


def listen() -> None:
    """Let either signal end the run by `Ended`; one that is ignored (`nohup`, `&`) stays ignored."""
    for number in ENDING:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, end)


def heard() -> bool:
    """Whether one came.

    An import cut short by KeyboardInterrupt may fail in its own way: numpy says that it is broken.
    """
    return bool(_heard)


def let_go() -> None:
    """Let either signal end the process at once: all that is left to do is to say so, or to exit."""
    for number in ENDING:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, signal.SIG_DFL)


def fall_silent() -> None:
    """Hear neither signal any more: all is said, and the exit code has to agree with it."""
    for number in ENDING:
        signal.signal(number, signal.SIG_IGN)


def end(number: int, frame: object) -> None:
    """Take a signal: end what runs."""
    _heard.append(number)
    raise Ended
