"""A desk left to two restless tabs: memory by the minute, and whether its answers are those of `fit`.

    python -m benchmarks.soak examples/geranium/study.toml --minutes 30

Works on a copy of the study's folder. Each tab listens as a browser does; handles of every kind are moved at random,
undone, set back, some a moment after each other. Once a minute the hands rest until the answer is proven, the study
and the formula are saved, and `fit` on the saved study must give the formula to the last figure (or one as close, where
several are). Prints megabytes resident of the server and its processes; stops if an answer differs or a process is left
at the end.
"""

from __future__ import annotations

import argparse
import contextlib
import html
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import Request, urlopen

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.formula import formula_rows
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.report.csv_table import formula_csv
from reaccord.study.load import load_study

PAUSES = (0.02, 0.1, 0.3, 1.0)
FIELD = re.compile(r'<input (type="checkbox" )?id="h\d+" name="([^"]*)"(?: value="([^"]*)")?')
WORD = re.compile(r'id="certainty">([^<]*)<')
CLOSE = 1e-9
ALIKE = {"same", "as close", "no formula, both"}


class Hand:
    """A tab and the hand that moves its handles."""

    def __init__(self, address: str, chance: random.Random) -> None:
        self.at, self._chance = urlopen(address).url, chance
        self.fields = [(bool(box), html.unescape(name), text) for box, name, text in FIELD.findall(self.page())]
        threading.Thread(target=self._listen, daemon=True).start()

    def page(self) -> str:
        """Return the page as it stands."""
        return str(urlopen(self.at).read().decode())

    def post(self, where: str, **data: str) -> str:
        """Do what a button does."""
        asked = Request(self.at + where, data=urlencode(data).encode(), headers={"X-Desk": "1"})
        return str(urlopen(asked).read().decode())

    def move(self) -> None:
        """Move something at random: the cost or the lines mostly, else any handle, back, or all as it was."""
        die = self._chance.random()
        if die < 0.15:
            self.post("undo")
        elif die < 0.2:
            self.post("start")
        elif die < 0.6:
            name, least, most = self._chance.choice((("cost_per_kg", 90, 200), ("lines", 8, 24)))
            self.post("move", **{f'["limits", "{name}"]': str(self._chance.randint(least, most))})
        else:
            box, name, text = self._chance.choice(self.fields)
            number = float(text) if re.fullmatch(r"[\d.]+", text) else 1.0
            moved = self._chance.choice(("in", "out")) if box else f"{number * self._chance.uniform(0.7, 1.5):.4g}"
            self.post("move", **{name: moved})

    def rest(self, seconds: float) -> str:
        """Wait until nothing is searched for; return how it stands then."""
        until = time.monotonic() + seconds
        while True:
            found = WORD.search(self.page())
            word = found[1] if found else ""
            if word in {"proven", "no formula"} or time.monotonic() > until:
                return word
            time.sleep(0.2)

    def _listen(self) -> None:
        with contextlib.suppress(OSError):
            for _ in urlopen(self.at + "events"):
                pass


def same_as_fit(hand: Hand, folder: Path, number: int) -> str:
    """Save the study and its formula, solve the saved study; return how they compare, in a word."""
    word = hand.rest(30)
    if word not in {"proven", "no formula"}:
        return f"not proven in half a minute ({word})"
    study, formula = folder / f"soak-{number}.toml", folder / f"soak-{number}.csv"
    for what, file in (("study", study), ("formula", formula)):
        said = hand.post("save", what=what, file=file.name)
        if not file.exists() and not (what == "formula" and word == "no formula"):
            return f"not saved: {said}"
    try:
        found = fit(load_study(study))
    except (InvalidInput, NoAnswer, NoFormula) as fault:
        return "no formula, both" if word == "no formula" else f"DIFFERS: {fault}"
    if word == "no formula":
        return "DIFFERS: fit has a formula"
    own = formula_csv(formula_rows(found.judged))
    return "same" if own == formula.read_text(encoding="utf-8") else _as_close(hand, found)


def _as_close(hand: Hand, found: Fit) -> str:
    """Compare what is wrong, where the formulas differ: the deviation the page prints under the answer."""
    said = re.search(r"Deviation\D*([\d.]+)", hand.page())
    if said is None:
        return "DIFFERS: no figures on the page"
    digits = len(said[1].partition(".")[2])
    own = found.judged.closeness.value
    return "as close" if abs(own - float(said[1])) <= 0.5 * 10**-digits + CLOSE else f"DIFFERS: {own} and {said[1]}"


def resident(pid: int) -> int | None:
    """Return megabytes of a process in memory (Linux, proc(5)); None where it is gone."""
    try:
        found = re.search(r"VmRSS:\s+(\d+)", Path(f"/proc/{pid}/status").read_text())
    except OSError:
        return None
    return None if found is None else int(found[1]) // 1024


def children(pid: int) -> list[int]:
    """Return the processes a process has begun, without Python's own keeper of shared things."""
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    listed = [each for task in tasks for each in task.read_text().split()]
    return [int(each) for each in listed if "resource_tracker" not in Path(f"/proc/{each}/cmdline").read_text()]


def soak(address: str, server: int, folder: Path, minutes: float, seed: int) -> list[str]:
    """Move, measure and compare; return what differed."""
    chance = random.Random(seed)
    hands = [Hand(address, chance) for _ in range(2)]
    begun, moves, faults = time.monotonic(), 0, list[str]()
    for minute in range(1, round(minutes) + 1):
        while time.monotonic() < begun + 60 * minute:
            chance.choice(hands).move()
            moves += 1
            time.sleep(chance.choice(PAUSES))
        memory = [resident(each) for each in children(server)]
        compared = same_as_fit(hands[minute % 2], folder, minute)
        faults += [] if compared in ALIKE else [f"minute {minute}: {compared}"]
        print(f"{minute:4d} min {moves:6d} moves  server {resident(server)} MB  tabs {memory}  {compared}", flush=True)
    return faults


def main() -> None:
    """Run what the options ask for and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("study", type=Path)
    parser.add_argument("--minutes", type=float, default=30)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(shutil.copytree(options.study.parent, Path(temporary) / "study"))
        words = [sys.executable, "-m", "reaccord", "desk", str(folder / options.study.name), "--no-browser"]
        desk = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        assert desk.stderr is not None
        address = next(found[0] for line in desk.stderr if (found := re.search(r"http://\S+", line)))
        faults = soak(address, desk.pid, folder, options.minutes, options.seed)
        left = children(desk.pid)
        desk.send_signal(signal.SIGINT)
        desk.wait(20)
        faults += [f"process {each} is left" for each in left if resident(each) is not None]
    print("\n".join(faults) or "every answer as fit's, no process left")
    sys.exit(bool(faults))


if __name__ == "__main__":
    main()
