"""Who is served which vial, in which order, under which code; and what their answers come to."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reaccord.balance.codes import LEAST, MOST, three_digit_codes
from reaccord.balance.discrimination import SERVED, Rule, Test
from reaccord.domain.lines import AnswerLine, KeyLine
from reaccord.findings import Findings, Place, UsageError

ORDERS: dict[Test, tuple[tuple[int, ...], ...]] = {
    "triangle": ((0, 1, 1), (1, 0, 1), (1, 1, 0), (0, 0, 1), (0, 1, 0), (1, 0, 0)),
    "paired": ((0, 1), (1, 0)),
}
"""Every order in which two samples can be served: six in a triangle (ISO 4120), two in a pair (ISO 5495)."""


@dataclass(frozen=True)
class Served:
    """One assessor's vials in the order of smelling: their codes and, for the key, which sample each holds."""

    assessor: str
    codes: tuple[str, ...]
    samples: tuple[str, ...]


def served(test: Test, samples: tuple[str, str], assessors: int, seed: int | None) -> tuple[Served, ...]:
    """Return the vials of each assessor: every order equally often, no code twice; without a seed by chance.

    Raises
    ------
    UsageError
        If there are not codes enough.
    """
    vials, orders = SERVED[test], ORDERS[test]
    most = (MOST - LEAST + 1) // vials
    if assessors > most:
        raise UsageError(f"--assessors: {most} at most, as every vial has a code of three digits of its own.")
    chance = random.Random(seed) if seed is not None else random.SystemRandom()
    rounds = [order for _ in range(-(-assessors // len(orders))) for order in chance.sample(orders, len(orders))]
    codes = three_digit_codes(assessors * vials, chance.getrandbits(64))
    found = []
    for number, order in enumerate(rounds[:assessors]):
        mine = tuple(codes[number * vials : (number + 1) * vials])
        found.append(Served(str(number + 1), mine, tuple(samples[i] for i in order)))
    return tuple(found)


@dataclass(frozen=True)
class Scored:
    """What the answers came to; `chosen` counts, by sample, how often it was named."""

    rule: Rule
    n: int
    right: int
    chosen: Mapping[str, int]
    expected: str

    @property
    def probability(self) -> float:
        """The chance of this by luck alone."""
        return self.rule.probability(self.right, self.n)

    @property
    def proven(self) -> bool:
        """Whether a difference is proven at the level."""
        critical = self.rule.critical(self.n)
        most = max(self.right, self.n - self.right) if self.rule.two_sided else self.right
        return critical is not None and most >= critical


def read_key(lines: Sequence[KeyLine], findings: Findings) -> dict[str, dict[str, str]]:
    """Return the sample behind each code, by assessor; a key that cannot be one is a finding."""
    key: dict[str, dict[str, str]] = {}
    of: dict[str, Place] = {}
    for line in lines:
        if line.code in of:
            findings.error("twice", f'the code "{line.code}" stands twice; every vial has its own.', line.at)
        of[line.code] = line.at
        key.setdefault(line.assessor, {})[line.code] = line.sample
    names = list(dict.fromkeys(line.sample for line in lines))
    if lines and len(names) != 2:
        text = f"a blind test is of two samples; the key names {len(names)}: {', '.join(names)}."
        findings.error("two-samples", text, lines[0].at.at("sample"))
    sizes = {len(codes) for codes in key.values()}
    if lines and (len(sizes) > 1 or not sizes <= set(SERVED.values())):
        text = "every assessor has three vials (triangle) or two (paired comparison); this key differs."
        findings.error("no-key", text, Place(lines[0].at.file))
    return key


def scored(
    key: Mapping[str, Mapping[str, str]], answers: Sequence[AnswerLine], rule: Rule, expected: str, findings: Findings
) -> Scored | None:
    """Score answers against a key; those that do not belong to it are findings, and then None.

    Assessors of the key without an answer do not count and are said.

    In a triangle the odd vial is right; in a pair the one that holds `expected`, the key's first sample if blank.
    """
    given: dict[str, Place] = {}
    right, chosen = 0, Counter[str]()
    names = sorted({sample for codes in key.values() for sample in codes.values()})
    expected = expected or next(iter(names), "")
    if expected not in names:
        raise UsageError(f'--expected names one of the two samples, {" or ".join(names)}, not "{expected}".')
    for line in answers:
        codes = key.get(line.assessor)
        if codes is None:
            text = f'the key has no assessor "{line.assessor}". Is it the key of this test?'
            findings.error("no-assessor", text, line.at.at("assessor"))
        elif line.assessor in given:
            text = f'assessor "{line.assessor}" has answered in row {given[line.assessor].row} already.'
            findings.error("twice", text, line.at.at("assessor"))
        elif line.answer not in codes:
            text = f'"{line.answer}" is no code of assessor {line.assessor}, who had {", ".join(codes)}.'
            findings.error("no-code", text, line.at.at("answer"))
        else:
            given[line.assessor] = line.at
            sample = codes[line.answer]
            chosen[sample] += 1
            odd = list(codes.values()).count(sample) == 1
            right += odd if rule.test == "triangle" else sample == expected
    if findings.errors:
        return None
    silent = [assessor for assessor in key if assessor not in given]
    if silent:
        text = f"no answer of assessor {', '.join(silent)}: not counted. The test asks for a choice, even a guess."
        findings.warn("no-choice", text, Place(answers[0].at.file, column="answer"))
    return Scored(rule, len(given), right, dict(sorted(chosen.items())), "" if rule.test == "triangle" else expected)
