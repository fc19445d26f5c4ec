"""Checks a certificate in exact arithmetic. Standard library only; nothing here knows how a formula is found.

The claim: the formula holds every limit and deviates by `value`, and no formula at all deviates by less than
`bound`. A formula is: basis @ x = batch; each x_i is 0 or within its minimum and maximum; amounts @ x +
used @ [x > 0] <= most for every limit; of one material's strengths only one is used.

The tree divides all formulas: at each branching every formula belongs to one of the children at least, so the
least bound of its leaves holds for all of them. `leaf` says why a leaf's bound is true, `maxima` up to which
amounts anything has to be considered.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from reaccord.certificate.column import distance
from reaccord.certificate.format import Certificate, Claim, Node, Numbers, Problem, Refused, index
from reaccord.certificate.leaf import FREE, OFF, ON, UNIT, Leaf, State, dot
from reaccord.certificate.maxima import Maxima, largest_of

LARGEST_EXCESS = Fraction(1, 10**9)
"""A formula may miss a limit by this much, relative, if the certificate says so."""
NEARLY_ZERO = Fraction(1, 10**9)
"""A deviation this small counts as none: the gap is 0 then."""
LARGEST_VALUE = Fraction(10) ** 300
"""No deviation of weighable amounts comes near it; what is printed are floats."""
DIGITS = 20
"""Digits of value and gap in a claim."""


@dataclass(frozen=True)
class Verdict:
    """What a certificate proves: its claim, by so many leaves and branchings; `excess` is the formula's own."""

    claim: Claim
    excess: Fraction
    leaves: int
    branchings: int


def verify(certificate: Certificate) -> Verdict:
    """Return what the certificate proves.

    Raises
    ------
    Refused
        If its numbers do not prove its claim; the message says what is wrong.
    """
    problem, claim = certificate.problem, certificate.claim
    check_problem(problem)
    amounts = amounts_of(certificate)
    excess = excess_of(problem, amounts)
    if not isinstance(excess, Fraction) or not excess <= claim.excess <= LARGEST_EXCESS:
        raise Refused(f"the formula misses a limit by {shown(excess)} of its size, {shown(claim.excess)} is admitted.")
    value = rounded_up(value_of(problem, amounts))
    if claim.value != value:
        raise Refused(f"the formula deviates by {shown(value)}, not by {shown(claim.value)} as claimed.")
    if not 0 <= claim.bound <= claim.value or claim.gap != gap_of(claim.value, claim.bound):
        raise Refused("value, bound and gap claimed do not belong together.")
    if claim.value > LARGEST_VALUE:
        raise Refused("the formula deviates by a number out of all measure.")
    walk = Walk(certificate, largest_of(problem, claim.value))
    proven = walk.proven()
    if claim.bound > proven:
        raise Refused(f"the bound claimed is {shown(claim.bound)}, the tree proves less, {shown(proven)}.")
    return Verdict(claim, excess, walk.leaves, walk.branchings)


def shown(value: Fraction | float) -> str:
    """Return a number for people."""
    try:
        return f"{float(value):.9g}"
    except OverflowError:
        return "a number out of all measure"


def check_problem(problem: Problem) -> None:
    """Refuse a programme for which the arguments would not hold."""
    n = len(problem.columns)
    grouped = [i for strengths in problem.strengths for columns in strengths for i in columns]
    for holds, text in (
        (len(set(problem.columns)) == n, "two columns have one label."),
        (problem.batch > 0, "the batch is not above zero."),
        (all(low >= 0 for low in problem.minimum), "a minimum is below zero."),
        (all(row.low <= row.high for row in problem.rows), "a band ends below its beginning."),
        (all(row.factor_squared >= 0 for row in problem.rows), "a squared factor is below zero."),
        (len(set(grouped)) == len(grouped), "a column is of two strengths."),
    ):
        if not holds:
            raise Refused(f"the programme: {text}")


def amounts_of(certificate: Certificate) -> Numbers:
    """Return the formula as amounts of all columns, gram."""
    unknown = certificate.formula.keys() - set(certificate.problem.columns)
    if unknown:
        raise Refused(f'the formula uses "{min(unknown):.60}", which is no column of the programme.')
    return tuple(certificate.formula.get(label, Fraction(0)) for label in certificate.problem.columns)


def value_of(problem: Problem, amounts: Numbers) -> Fraction:
    """Return the deviation of amounts."""
    squares = (
        row.factor_squared * distance(row, dot(row.content, amounts) / problem.batch) ** 2 for row in problem.rows
    )
    return sum(squares, Fraction(0))


def excess_of(problem: Problem, amounts: Numbers) -> Fraction | float:
    """Return the worst violation of a limit relative to its size, 0 if all hold exactly."""
    used = [Fraction(x > 0) for x in amounts]
    worst = [abs(dot(problem.basis, amounts) - problem.batch) / problem.batch]
    for x, low, high in zip(amounts, problem.minimum, problem.maximum, strict=True):
        over = Fraction(0) if high is None else x - high
        worst.append(max(-x, over, low - x if x > 0 else Fraction(0)) / problem.batch)
    for limit in problem.limits:
        over = dot(limit.amounts, amounts) + dot(limit.used, used) - limit.most
        size = abs(limit.most) + dot([abs(a) for a in limit.amounts], amounts) + dot([abs(u) for u in limit.used], used)
        worst.append(over / size if size > 0 else Fraction(0))
    for strengths in problem.strengths:
        if sum(any(amounts[i] > 0 for i in columns) for columns in strengths) > 1:
            return math.inf
    return max(worst)


def rounded_up(value: Fraction) -> Fraction:
    """Return a number not below zero, rounded up at about its 20th digit."""
    if value <= 0:
        return Fraction(0)
    magnitude = (value.numerator.bit_length() - value.denominator.bit_length()) * 301 // 1000
    unit = Fraction(10) ** (DIGITS - magnitude)
    return math.ceil(value * unit) / unit


def gap_of(value: Fraction, bound: Fraction) -> Fraction:
    """Return the relative gap, rounded up; 0 for a value that counts as none."""
    return Fraction(0) if value <= NEARLY_ZERO else rounded_up((value - bound) / value)


class Walk:
    """Goes through the tree of a certificate; `leaves` and `branchings` count what was met."""

    def __init__(self, certificate: Certificate, largest: Maxima) -> None:
        self.problem, self.duals, self.tree = certificate.problem, certificate.duals, certificate.tree
        self.largest = largest
        self.leaves = self.branchings = 0
        self._least: int | float = math.inf
        self._worked_out: dict[int, Leaf] = {}
        self._waiting: list[tuple[int, State]] = []

    def proven(self) -> Fraction | float:
        """Return the least bound of all leaves; together they hold every formula."""
        if not self.tree:
            raise Refused("the tree is empty.")
        met: set[int] = set()
        self._waiting = [(0, [FREE] * len(self.problem.columns))]
        while self._waiting:
            number, state = self._waiting.pop()
            if number in met:
                raise Refused(f"node {number} of the tree stands below two branchings.")
            met.add(number)
            self._node(number, self.tree[number], state)
        if len(met) < len(self.tree):
            raise Refused("a node of the tree stands below no branching.")
        return self._least if isinstance(self._least, float) else Fraction(self._least, UNIT)

    def _node(self, number: int, node: Node, state: State) -> None:
        if "leaf" in node:
            self._bounded(node["leaf"], state)
            return
        self.branchings += 1
        if "column" in node:
            column = index(node["column"], len(state), "a column of the tree")
            self._child(number, node["off"], decide(state, [column], OFF))
            self._child(number, node["on"], decide(state, [column], ON))
        elif "material" in node:
            self._material(number, node, state)
        else:
            self._fixed(number, node, state)

    def _material(self, number: int, node: Node, state: State) -> None:
        """Of the strengths of one material none is used, or only the first, or only the second ..."""
        strengths = self.problem.strengths[index(node["material"], len(self.problem.strengths), "a material")]
        if not isinstance(node["only"], list) or len(node["only"]) != len(strengths):
            raise Refused(f"node {number} of the tree does not branch over every strength.")
        self._child(number, node["none"], decide(state, [i for columns in strengths for i in columns], OFF))
        for only, child in zip(strengths, node["only"], strict=True):
            others = [i for columns in strengths if columns is not only for i in columns]
            further = decide(state, others, OFF)
            if further is not None and len(only) == 1:
                further = decide(further, only, ON)
            self._child(number, child, further)

    def _fixed(self, number: int, node: Node, state: State) -> None:
        """One branching after another, the other choice each time a leaf with the same duals."""
        further: State | None = state
        if not isinstance(node["fixed"], list):
            raise Refused(f"node {number} of the tree fixes nothing that can be read.")
        for pair in node["fixed"]:
            if not isinstance(pair, list) or len(pair) != 2 or pair[1] not in ("off", "on"):
                raise Refused(f"node {number} of the tree fixes nothing that can be read.")
            column = index(pair[0], len(state), "a column of the tree")
            choice, other = (OFF, ON) if pair[1] == "off" else (ON, OFF)
            if further is not None:
                aside = decide(further, [column], other)
                if aside is not None:
                    self._bounded(node["by"], aside)
                further = decide(further, [column], choice)
        self._child(number, node["then"], further)

    def _child(self, number: int, child: object, state: State | None) -> None:
        """Put a child on the list; none is needed, nor allowed, where the tree has decided otherwise before."""
        if child is None and state is None:
            return
        if child is None or state is None or index(child, len(self.tree), "a node of the tree") <= number:
            raise Refused(f"node {number} of the tree leaves out formulas, or leads nowhere.")
        self._waiting.append((index(child, len(self.tree), "a node of the tree"), state))

    def _bounded(self, duals: object, state: State) -> None:
        number = index(duals, len(self.duals), "duals")
        if number not in self._worked_out:
            self._worked_out[number] = Leaf(self.problem, self.largest, self.duals[number])
        self.leaves += 1
        self._least = min(self._least, self._worked_out[number].bound(self.problem, state))


def decide(state: State, columns: Iterable[int], choice: int) -> State | None:
    """Return the state with columns decided, None if one of them is decided otherwise already."""
    further = list(state)
    for i in columns:
        if further[i] not in (FREE, choice):
            return None
        further[i] = choice
    return further
