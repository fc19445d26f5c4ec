"""What one tab has tried: settings of the handles, back and forth among them, and a ledger of what came of each."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from reaccord.desk.answering import Answered, Curved, Helping, Message, NoneFits
from reaccord.desk.handle import Handle
from reaccord.desk.handles import handle_of, handles
from reaccord.desk.moves import Move, Moves, follow, moved
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.tables.cells import BadCell

SAME_MOVE = 1.0
"""Seconds within which a handle moved again is still the same move: a slider is undone as a whole."""
MOST_BACK = 200
"""Settings that can be gone back to."""
MOST_AGAIN = 20
"""Of either that are kept when the tables have changed: each is a study made anew."""
MOST_TRIED = 100
"""Lines of the ledger."""


@dataclass(frozen=True)
class Setting:
    """One setting of the handles and the study with it; `last` is the handle that was moved to come here, and when."""

    number: int
    moves: Moves
    study: Study
    last: str = ""
    at: float = 0.0


@dataclass(frozen=True)
class Outcome:
    """What the ledger keeps of a formula: little, since it keeps many. `judged` works out the rest again.

    `misplaced_share` is the share in the wrong place (0 to 1), `cost_per_kg` None where a bottle has no price.
    """

    amounts: Mapping[StockKey, float]
    misplaced_share: float
    lines: int
    cost_per_kg: float | None
    certainty: str


@dataclass(frozen=True)
class Tried:
    """A line of the ledger: what was moved, in words, and what came of it; None where no formula did.

    `stale`: that came of the tables as they were before they changed.
    """

    number: int
    setting: Setting
    said: str
    outcome: Outcome | None
    stale: bool = False


@dataclass
class Session:
    """Everything of one tab. Numbers of settings rise, so that no answer to an older one is taken for the newest's.

    `answer` is the last formula there was, of the study `answered`: it stays until there is another.
    """

    base: Study
    here: int = 0
    path: list[Setting] = field(default_factory=list)
    answer: Answered | None = None
    answered: Study | None = None
    none: NoneFits | None = None
    helping: Helping | None = None
    curved: Curved | None = None
    tried: list[Tried] = field(default_factory=list)
    wrong: dict[str, tuple[str, str]] = field(default_factory=dict)
    fault: str = ""
    count: int = 0

    def __post_init__(self) -> None:
        """Begin where the study stands."""
        self.path = [Setting(self._number(), {}, self.base)]

    @property
    def setting(self) -> Setting:
        """Where the handles stand now."""
        return self.path[self.here]

    @property
    def study(self) -> Study:
        """The study as the handles stand."""
        return self.setting.study

    @property
    def proven(self) -> bool:
        """Whether nothing is searched for any more."""
        answer = self.current
        return self.none is not None or bool(self.fault) or (answer is not None and answer.certainty == "proven")

    @property
    def current(self) -> Answered | None:
        """The formula of the handles as they stand, None where there is none yet."""
        return self.answer if self.answer is not None and self.answer.number == self.setting.number else None

    def move(self, wanted: Mapping[str, str]) -> bool:
        """Move handles to what was typed; tell whether any moved. What cannot be stays beside its handle, with why."""
        before, study, moves = self.setting, self.setting.study, dict(self.setting.moves)
        for name, text in wanted.items():
            self.wrong.pop(name, None)
            handle = handle_of(study, name)
            if handle is not None and text.strip() == handle.now(study):
                continue
            try:
                after = moved(study, name, text)
            except BadCell as fault:
                self.wrong[name] = text, str(fault)
                continue
            assert handle is not None
            was = moves[name].was if name in moves else handle.now(study)
            now = handle.now(after)
            moves.pop(name, None)
            if now != was:
                moves[name] = Move(now, was)
            study = after
        if study is before.study:
            return False
        last = next(iter(wanted)) if len(wanted) == 1 else ""
        self._go_on(replace(before, moves=moves, study=study, last=last, at=time.monotonic()))
        return True

    def _go_on(self, setting: Setting) -> None:
        """Take a new setting: in place of the last where the same handle goes on moving, else after it."""
        setting, before = replace(setting, number=self._number()), self.setting
        del self.path[self.here + 1 :]
        if setting.last and setting.last == before.last and setting.at - before.at < SAME_MOVE:
            self.path[self.here] = setting
            self.tried = [each for each in self.tried if each.setting is not before]
        else:
            self.path = [*self.path, setting][-MOST_BACK:]
            self.here = len(self.path) - 1
        self._forget()

    def step(self, by: int) -> bool:
        """Go back or forth among the settings; tell whether there was one."""
        there = self.here + by
        if not 0 <= there < len(self.path):
            return False
        self.here = there
        self.path[there] = replace(self.path[there], number=self._number(), last="")
        self.wrong.clear()
        self._forget()
        return True

    def start_again(self) -> bool:
        """Set every handle as the study stands; tell whether any stood elsewhere."""
        if not self.setting.moves:
            return False
        self.wrong.clear()
        self._go_on(Setting(0, {}, self.base))
        return True

    def back_to(self, number: int) -> bool:
        """Set the handles as in a line of the ledger; tell whether there is one."""
        found = next((each.setting for each in self.tried if each.number == number), None)
        if found is None:
            return False
        self.wrong.clear()
        self._go_on(replace(found, last="", at=0.0))
        return True

    def read_again(self, base: Study) -> dict[str, str]:
        """Take the study as its tables stand now, with the handles where they stand.

        Return the handles that could not be kept there, and why, by name.
        Settings that can be gone back to, and lines of the ledger, are kept, the newest, where the study allows them.
        """
        moves, lost = dict[str, Move](), dict[str, str]()
        for name, move in self.setting.moves.items():
            handle = handle_of(base, name)
            was = "" if handle is None else handle.now(base)
            try:
                follow(base, {}, {**moves, name: Move(move.text, was)})
            except BadCell as fault:
                lost[name] = f"{name if handle is None else handle.label} {move.text}: {fault}"
                continue
            if move.text != was:
                moves[name] = Move(move.text, was)
        before = [
            again for each in self.path[max(self.here - MOST_AGAIN, 0) : self.here] if (again := _again(base, each))
        ]
        self.base, self.here = base, len(before)
        self.path = [*before, Setting(self._number(), moves, follow(base, {}, moves))]
        self.tried = [
            replace(each, setting=again, stale=True)
            for each in self.tried[-MOST_AGAIN:]
            if (again := _again(base, each.setting))
        ]
        self.wrong.clear()
        self._forget()
        return lost

    def heard(self, message: Message) -> bool:
        """Take what the search says, if it is about the newest setting; tell whether it is."""
        if message.number != self.setting.number:
            return False
        if isinstance(message, Helping):
            self.helping = message
        elif isinstance(message, Curved):
            self.curved = message
        else:
            self.none = message if isinstance(message, NoneFits) else None
            if isinstance(message, Answered):
                self.answer, self.answered = message, self.study
            if isinstance(message, NoneFits) or message.certainty == "proven":
                self._enter(message)
        return True

    def _enter(self, answer: Answered | NoneFits) -> None:
        """Write what came of a setting into the ledger, once."""
        same = next((n for n, each in enumerate(self.tried) if each.setting.moves == self.setting.moves), None)
        if same is not None:
            was = self.tried[same]
            self.tried[same] = Tried(was.number, self.setting, said_of(self.setting), _outcome(answer))
            return
        number = self.tried[-1].number + 1 if self.tried else 1
        line = Tried(number, self.setting, said_of(self.setting), _outcome(answer))
        self.tried = [*self.tried, line][-MOST_TRIED:]

    def _forget(self) -> None:
        """The formula stays on the page until there is another; what was asked of it does not."""
        self.none = self.helping = self.curved = None
        self.fault = ""

    def _number(self) -> int:
        self.count += 1
        return self.count

    def handles(self) -> tuple[Handle, ...]:
        """Return what can be moved now."""
        return handles(self.study)


def _again(base: Study, setting: Setting) -> Setting | None:
    """Return a setting of the study as its tables stand now; None where it cannot be."""
    try:
        return replace(setting, study=follow(base, {}, setting.moves))
    except BadCell:
        return None


def _outcome(answer: Answered | NoneFits) -> Outcome | None:
    if isinstance(answer, NoneFits):
        return None
    judged = answer.judged
    totals = judged.closeness.misplaced_share, len(judged.lines), judged.totals.cost_per_kg
    return Outcome(answer.amounts, *totals, answer.certainty)


def said_of(setting: Setting) -> str:
    """Say in a line what was moved."""
    said = []
    for name, move in setting.moves.items():
        handle = handle_of(setting.study, name)
        if handle is None:
            continue
        if handle.shape == "switch":
            said.append(f"{'with' if move.text == 'in' else 'without'} {handle.label}")
        else:
            unit = f" {handle.unit}" if handle.unit and move.text else ""
            weight = ", weight" if handle.group == "rows" else ""
            said.append(f"{handle.label}{weight}: {move.text or 'no limit'}{unit}")
    return "; ".join(said) or "as the study stands"
