"""The `reaccord` command: its first and its last act. Ctrl-C has to be heard while the rest is imported."""

from __future__ import annotations

import atexit
import gc
import os
import sys

try:
    from reaccord.cli import signals
except KeyboardInterrupt:  # of Python's own handler: none of ours listens yet
    from reaccord.cli import signals

    signals.hear()


def run(arguments: list[str] | None = None) -> None:
    """Run the command line and exit with its code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    # What is imported and read is kept to the end: to search it for cycles took 10 ms of a fit each time.
    gc.set_threshold(200_000)
    atexit.register(gc.freeze)
    try:
        signals.listen()
        signals.heed()
        _hold_closed_descriptors()
        from reaccord.cli.running import run_words

        signals.heed()
        code = run_words(words)
    except BaseException as fault:  # an import cut short may fail in its own way
        if not isinstance(fault, KeyboardInterrupt) and not signals.heard():
            raise
        signals.let_go()
        from reaccord.cli.running import say_interrupted

        code = say_interrupted(words)
    signals.fall_silent()
    sys.exit(code)


def _hold_closed_descriptors() -> None:
    """Open the null device where stdin, stdout or stderr is closed: the next file would be taken for it."""
    for descriptor in (0, 1, 2):
        try:
            os.fstat(descriptor)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # gets the lowest number that is free


if __name__ == "__main__":
    run()
