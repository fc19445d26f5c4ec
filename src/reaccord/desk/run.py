"""The desk from its start to its end: a port, a browser, Ctrl-C."""

from __future__ import annotations

import contextlib
import signal
import socket
import webbrowser
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import IO

import uvicorn

from reaccord.desk.opened import opened, study_path
from reaccord.desk.server import Desk
from reaccord.findings import UsageError
from reaccord.report.layout import counted

HOST = "127.0.0.1"
"""This machine alone."""
LAST_WORDS = 1
"""Seconds that open pages are given at the end."""
ANOTHER = (
    "Another desk is open on this study. Both go on: neither changes the study's own files, and each saves under a "
    "name that is free."
)
Say = Callable[[str], None]


@dataclass(frozen=True)
class Ended:
    """A desk that was ended: its address, and the files it saved."""

    address: str
    saved: tuple[str, ...]


def run(path: Path, port: int, *, browser: bool, say: Say) -> Ended:
    """Serve the desk until it is ended.

    Raises
    ------
    UsageError
        If the port is in use, or a folder holds several study files.
    InvalidInput
        If there is no study file.
    """
    file = study_path(path)
    with _listening(port) as listener, alone(file) as only:
        said = () if only else (ANOTHER,)
        read = opened(file)
        own = listener.getsockname()[1]
        desk = Desk(file, read, said)
        address = f"http://{HOST}:{own}/{desk.secret}/"
        for text in said:
            say(text)
        if read.study is None:
            found = counted(len(read.findings), "finding")
            say(f"{found} in {file.name}: the page shows them, and comes to life when they are mended.")
        say(f"The desk is open at {address}")
        if browser and not _shown(address):
            say("No browser could be opened. Open that address in one on this machine.")
        say("Ctrl-C ends it.")
        _serve(desk, listener, own)
        return Ended(address, tuple(desk.saved))


def _serve(desk: Desk, listener: socket.socket, port: int) -> None:
    """Serve a desk until a signal comes."""
    config = uvicorn.Config(
        desk.app(port),
        log_level="error",
        access_log=False,
        lifespan="on",
        server_header=False,
        timeout_graceful_shutdown=LAST_WORDS,
    )
    _Server(config, desk.end).run(sockets=[listener])


class _Server(uvicorn.Server):
    """A server that Ctrl-C ends without more ado: that is how a desk ends."""

    def __init__(self, config: uvicorn.Config, leave: Callable[[], None]) -> None:
        super().__init__(config)
        self._leave = leave

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End what pages listen to first: a stream that is cut off would be told of as an error."""
        self._leave()
        await super().shutdown(sockets)

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Let the first signal end it, with what is open told so; a second one ends the wait."""

        def end(number: int, frame: FrameType | None) -> None:
            del number, frame
            self.force_exit = self.should_exit
            self.should_exit = True

        before = {number: signal.signal(number, end) for number in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)


def _listening(port: int) -> socket.socket:
    # TCP by name: else asyncio leaves small packets to wait for each other, 40 ms a move
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listener.bind((HOST, port))
        listener.listen()  # a browser that is quicker than the server waits
    except (OSError, OverflowError) as fault:
        listener.close()
        why = getattr(fault, "strerror", None) or str(fault)
        raise UsageError(f"cannot listen at port {port}: {why}. Without --port a free one is taken.") from None
    return listener


@contextlib.contextmanager
def alone(file: Path) -> Iterator[bool]:
    """Hold the study file as the only desk; false if another does, true where a system cannot tell."""
    try:
        import fcntl
    except ImportError:  # Windows
        yield True
        return
    held: IO[bytes] | None = None
    only = True
    try:
        held = file.open("rb")
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        only = False
    except OSError:  # no such file (a finding says so), or a disk that holds no locks
        pass
    try:
        yield only
    finally:
        if held is not None:
            held.close()


def _shown(address: str) -> bool:
    """Open a browser that has a window of its own; one that would take over the terminal is none."""
    try:
        browser = webbrowser.get()
    except webbrowser.Error:
        return False
    in_terminal = type(browser) is webbrowser.GenericBrowser
    return not in_terminal and browser.open(address)
