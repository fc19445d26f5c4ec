"""Published programmes in the form of ours, every figure re-typed with its source beside it.

Three turns bring a textbook's programme into `Programme`, none of which changes its answer:

- A cost is a row with target 0: prices are never negative, so its absolute deviation is the cost itself (over
  the batch) and its square the square of the cost.
- Free money, capacity or turnover is a column of its own, so that the basis has an equality.
- Contents cannot be negative. With `sum x = 1` a row `l @ x` is `(l + c) @ x - c`: content `l + c`, target `c`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from tests.reference.stigler_foods import DAILY, FOODS, NUTRIENTS

from reaccord.contract import FloatArray, LimitRow, Measure, Programme
from reaccord.domain.limit_key import LimitKey


@dataclass
class Draft:
    """A programme in the making, by column names; `basis` 1 everywhere unless said otherwise."""

    columns: Sequence[str]
    batch: float = 1.0
    basis: Mapping[str, float] | None = None
    minimum: dict[str, float] = field(default_factory=dict)
    maximum: dict[str, float] = field(default_factory=dict)
    strengths: tuple[tuple[tuple[str, ...], ...], ...] = ()
    rows: list[tuple[FloatArray, float]] = field(default_factory=list)
    limits: list[LimitRow] = field(default_factory=list)

    def vector(self, numbers: Mapping[str, float], otherwise: float = 0.0) -> FloatArray:
        """Return numbers by column name as an array; a name that is no column is an error."""
        assert set(numbers) <= set(self.columns)
        return np.array([numbers.get(name, otherwise) for name in self.columns])

    def row(self, content: Mapping[str, float], share: float = 0.0) -> None:
        self.rows.append((self.vector(content), share))

    def at_most(self, amounts: Mapping[str, float], most: float, used: Mapping[str, float] | None = None) -> None:
        limit = f"limit {len(self.limits)}"
        key = LimitKey("restricted", (limit,))
        self.limits.append(LimitRow(key, limit, limit, self.vector(amounts), self.vector(used or {}), most))

    def at_least(self, amounts: Mapping[str, float], least: float) -> None:
        self.at_most({name: -number for name, number in amounts.items()}, -least)

    def exactly(self, amounts: Mapping[str, float], total: float) -> None:
        self.at_most(amounts, total)
        self.at_least(amounts, total)

    def programme(self, measure: Measure) -> Programme:
        shares = np.array([share for _, share in self.rows])
        place = {name: i for i, name in enumerate(self.columns)}
        return Programme(
            columns=tuple(self.columns),
            rows=tuple(f"row {k}" for k in range(len(self.rows))),
            content=np.array([content for content, _ in self.rows]),
            low=shares,
            high=shares,
            factor=np.ones(len(shares)),
            basis=np.ones(len(self.columns)) if self.basis is None else self.vector(self.basis),
            batch_g=self.batch,
            minimum=self.vector(self.minimum),
            maximum=self.vector(self.maximum, np.inf),
            limits=tuple(self.limits),
            strengths=tuple(tuple(tuple(place[n] for n in part) for part in parts) for parts in self.strengths),
            measure=measure,
        )


def shifted(draft: Draft, rows: Iterable[tuple[Mapping[str, float], float]]) -> None:
    """Add rows `content @ x - share` whose contents may be negative; the basis must be 1 everywhere, the batch 1."""
    for content, share in rows:
        up = max(0.0, -min(content.values()), -share)
        draft.row({name: content.get(name, 0.0) + up for name in draft.columns}, share + up)


def alloy(measure: Measure) -> Programme:
    """Dantzig's alloy: nine alloys, 30 % lead, 30 % zinc, 40 % tin exactly, least cost.

    G. B. Dantzig, Linear Programming and Extensions, Princeton 1963, section 3.4.
    """
    lead = (10, 10, 40, 60, 30, 30, 30, 50, 20)
    zinc = (10, 30, 50, 30, 30, 40, 20, 40, 30)
    tin = (80, 60, 10, 10, 40, 30, 50, 10, 50)
    price = (4.1, 4.3, 5.8, 6.0, 7.6, 7.5, 7.3, 6.9, 7.3)
    draft = Draft("ABCDEFGHI")
    for metal, wanted in ((lead, 30.0), (zinc, 30.0), (tin, 40.0)):
        draft.exactly(dict(zip(draft.columns, metal, strict=True)), wanted)
    draft.row(dict(zip(draft.columns, price, strict=True)))
    return draft.programme(measure)


def diet(measure: Measure) -> Programme:
    """Stigler's diet: dollars a day on 77 foods and the rest of one dollar, least spent (source: stigler_foods)."""
    draft = Draft([*FOODS, "kept"])
    for nutrient, least in enumerate(DAILY):
        draft.at_least({food: held[nutrient] for food, held in FOODS.items()}, least)
    assert len(NUTRIENTS) == len(DAILY)
    draft.row(dict.fromkeys(FOODS, 1.0))
    return draft.programme(measure)


def feed(measure: Measure) -> Programme:
    """A feed of two ingredients and filler, least cost: `Blending` in the R package limSolve.

    K. Soetaert, K. Van den Meersche, D. van Oevelen, limSolve: Solving Linear Inverse Models.
    """
    draft = Draft(("first", "second", "third"))
    needs = (((100, 200, 0), 80), ((50, 150, 0), 50), ((40, 10, 0), 25), ((10, 0, 0), 5))
    for held, least in needs:
        draft.at_least(dict(zip(draft.columns, held, strict=True)), least)
    draft.row({"first": 40.0, "second": 60.0})
    return draft.programme(measure)


def small_linear(measure: Measure) -> Programme:
    """The linear programme of limSolve's help page of `linp`, x >= 0; `sum x = 2` lets 2 be added to each cost."""
    draft = Draft(("x1", "x2", "x3", "x4"), batch=2.0)
    by = draft.columns
    draft.exactly(dict(zip(by, (3, 2, 1, 4), strict=True)), 2)
    for left, right in (((2, 1, 1, 1), -1), ((-1, 3, 2, 1), 2), ((-1, 0, 1, 0), 1)):
        draft.at_least(dict(zip(by, left, strict=True)), right)
    draft.row({name: cost + 2.0 for name, cost in zip(by, (1, 2, -1, 4), strict=True)})
    return draft.programme(measure)


def algae(measure: Measure) -> Programme:
    """Eight groups of algae from twelve pigments of a water sample, shares of the groups wanted.

    M. D. Mackey, D. J. Mackey, H. W. Higgins, S. W. Wright, Mar. Ecol. Prog. Ser. 144 (1996) 265-283, as the
    example `Chemtax` of limSolve; pigment ratios are divided by their sum, as there.
    """
    ratios = {
        "prasinophytes": (0, 0, 0, 0, 93.0, 113.1, 104.7, 0, 87.7, 0, 96.8, 99.8),
        "dinoflagellates": (114.0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 87.9),
        "cryptophytes": (0, 0, 0, 0, 0, 0, 0, 100.6, 0, 0, 0, 99.9),
        "haptophytes 3": (0, 0, 0, 109.7, 0, 0, 0, 0, 0, 0, 0, 83.6),
        "haptophytes 4": (0, 91.6, 94.4, 97.6, 0, 0, 0, 0, 0, 0, 0, 106.7),
        "chlorophytes": (0, 0, 0, 0, 113.5, 0, 19.4, 0, 119.8, 111.1, 105.4, 93.1),
        "cyanobacteria": (0, 0, 0, 0, 0, 0, 0, 0, 0, 118.6, 0, 93.5),
        "diatoms": (0, 0, 97.2, 0, 0, 0, 0, 0, 0, 0, 0, 102.1),
    }
    sample = (
        0.005285959594866747,
        0.052316132767819566,
        0.2927850478735568,
        0.06058731265185082,
        0.03949068874022159,
        0.03537773083072367,
        0.03452787040964422,
        0.01247602752555635,
        0.03841012878767305,
        0.014021077745484507,
        0.03993711018163991,
        0.3747849128909629,
    )
    draft = Draft(tuple(ratios))
    for pigment, share in enumerate(sample):
        draft.row({group: held[pigment] / sum(held) for group, held in ratios.items()}, share)
    return draft.programme(measure)


def three_assets(measure: Measure) -> Programme:
    """At most three of four assets at a given return, least variance (`alan`).

    A. S. Manne, GAMS/MINOS: Three Examples, Stanford University 1986; instance and optimum in MINLPLib.
    """
    assets = ("hardware", "software", "show-biz", "t-bills")
    covariance = np.array([[4.0, 3.0, -1.0], [3.0, 6.0, 1.0], [-1.0, 1.0, 10.0]])  # t-bills do not vary
    draft = Draft(assets)
    draft.exactly(dict(zip(assets, (8.0, 9.0, 12.0, 7.0), strict=True)), 10.0)
    draft.at_most({}, 3.0, used=dict.fromkeys(assets, 1.0))
    root = np.linalg.cholesky(covariance).T
    shifted(draft, ((dict(zip(assets, line, strict=False)), 0.0) for line in root))
    return draft.programme(measure)


def revision(measure: Measure) -> tuple[Programme, float]:
    """Change a portfolio: every change is nothing or within ends, least variance less half the return (`meanvarx`).

    H. Dahl, A. Meeraus, S. A. Zenios, in Zenios (ed.), Financial Optimization, Cambridge 1993; instance and
    optimum in MINLPLib. Returns the programme and what its squares are above the published objective: with
    `x'Qx - p'x = |Lx - q|^2 - |q|^2`, `2 L'q = p`, that is `|q|^2`. Columns are the changes up and down and the
    turnover not used; of one asset only one direction is taken, which is our "one strength of a material".
    """
    names = ("cn", "fr", "gr", "jp", "sw", "uk", "us")
    mean = np.array([0.1287, 0.1096, 0.0501, 0.1524, 0.0763, 0.1854, 0.0620])
    lower = (
        (42.18,),
        (20.18, 70.89),
        (10.88, 21.58, 25.51),
        (5.30, 15.41, 9.60, 22.33),
        (12.32, 23.24, 22.63, 10.32, 30.01),
        (23.84, 23.80, 13.22, 10.46, 16.36, 42.23),
        (17.41, 12.62, 4.70, 1.00, 7.20, 9.90, 16.42),
    )
    covariance = np.zeros((7, 7))
    for i, line in enumerate(lower):
        covariance[i, : i + 1] = covariance[: i + 1, i] = line
    old = np.array([0.2, 0.2, 0.0, 0.0, 0.2, 0.2, 0.2])
    up_least = (0.03, 0.04, 0.04, 0.03, 0.03, 0.03, 0.03)
    up_most = (0.11, 0.10, 0.07, 0.11, 0.20, 0.10, 0.10)
    down_least = (0.02, 0.02, 0.04, 0.04, 0.04, 0.04, 0.04)
    down_most = (0.20, 0.15, 0.00, 0.00, 0.10, 0.15, 0.20)  # no more than is held
    up, down = [f"{name} up" for name in names], [f"{name} down" for name in names]
    draft = Draft(
        [*up, *down, "unused"],
        minimum=dict(zip([*up, *down], [*up_least, *down_least], strict=True)),
        maximum=dict(zip([*up, *down], [*up_most, *down_most], strict=True)),
        strengths=tuple(((a,), (b,)) for a, b in zip(up, down, strict=True)),
    )
    draft.at_most(dict.fromkeys(up, 1.0), 0.3)
    draft.exactly({**dict.fromkeys(up, 1.0), **dict.fromkeys(down, -1.0)}, 0.0)
    root = np.linalg.cholesky(covariance).T
    away = np.linalg.solve(root.T, 0.5 * mean / 2.0)
    moves = (
        ({**dict(zip(up, line, strict=True)), **dict(zip(down, -line, strict=True))}, float(q - line @ old))
        for line, q in zip(root, away, strict=True)
    )
    shifted(draft, moves)
    return draft.programme(measure), float(away @ away)


MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun")
OILS = ("VEG1", "VEG2", "OIL1", "OIL2", "OIL3")
HARDNESS = (8.8, 6.1, 2.0, 4.2, 5.0)
OIL_PRICES = (
    (110, 120, 130, 110, 115),
    (130, 130, 110, 90, 115),
    (110, 140, 130, 100, 95),
    (120, 110, 120, 120, 125),
    (100, 120, 150, 110, 105),
    (90, 100, 140, 80, 135),
)
CAPACITY = {"VEG": 200.0, "OIL": 250.0}
SALES = 150.0 * sum(CAPACITY.values()) * len(MONTHS)
"""Income if every month refined all it could; idle capacity costs 150 a ton in the programme below."""


def foods(measure: Measure, second: bool) -> Programme:
    """Food manufacture, part 1 or 2: five oils bought, stored and refined over six months; `SALES` less profit.

    H. P. Williams, Model Building in Mathematical Programming, problems 12.1 and 12.2.
    """
    every = [(month, oil) for month in MONTHS for oil in OILS]
    columns = [f"{kind} {month} {oil}" for kind in ("buy", "use", "store") for month, oil in every]
    columns += [f"idle {month} {kind}" for month in MONTHS for kind in CAPACITY]
    columns += [f"without {month}" for month in MONTHS if second]
    refined = {f"use {month} {oil}": 1.0 for month, oil in every}
    idle = {f"idle {month} {kind}": 1.0 for month in MONTHS for kind in CAPACITY}
    draft = Draft(columns, batch=sum(CAPACITY.values()) * len(MONTHS), basis={**refined, **idle})
    draft.maximum.update({f"store {month} {oil}": 1000.0 for month, oil in every})
    for m, month in enumerate(MONTHS):
        _refine(draft, month)
        _store(draft, m)
        if second:
            _keep_to_few(draft, month)
    cost = {
        f"buy {month} {oil}": float(OIL_PRICES[m][o]) for m, month in enumerate(MONTHS) for o, oil in enumerate(OILS)
    }
    cost |= {f"store {month} {oil}": 5.0 for month, oil in every}
    draft.row(cost | dict.fromkeys(idle, 150.0))
    return draft.programme(measure)


def _refine(draft: Draft, month: str) -> None:
    """State capacity and hardness (3 to 6) of one month."""
    use = {oil: f"use {month} {oil}" for oil in OILS}
    for kind, most in CAPACITY.items():
        line = {use[oil]: 1.0 for oil in OILS if oil.startswith(kind)}
        draft.exactly(line | {f"idle {month} {kind}": 1.0}, most)
    draft.at_most({use[oil]: hard - 6.0 for oil, hard in zip(OILS, HARDNESS, strict=True)}, 0.0)
    draft.at_least({use[oil]: hard - 3.0 for oil, hard in zip(OILS, HARDNESS, strict=True)}, 0.0)


def _store(draft: Draft, m: int) -> None:
    """State what is in store after a month: 500 tons of each at the start and at the end."""
    for oil in OILS:
        move = {f"buy {MONTHS[m]} {oil}": 1.0, f"use {MONTHS[m]} {oil}": -1.0, f"store {MONTHS[m]} {oil}": -1.0}
        before = {} if m == 0 else {f"store {MONTHS[m - 1]} {oil}": 1.0}
        draft.exactly(move | before, -500.0 if m == 0 else 0.0)
        if m == len(MONTHS) - 1:
            draft.exactly({f"store {MONTHS[m]} {oil}": 1.0}, 500.0)


def _keep_to_few(draft: Draft, month: str) -> None:
    """State part 2: at most three oils, 20 tons of an oil or none, OIL3 wherever a vegetable oil is used.

    `without` is 0 or 1, and has to be 1 where no OIL3 is used; a vegetable oil may then not be used.
    """
    use = {oil: f"use {month} {oil}" for oil in OILS}
    draft.minimum.update(dict.fromkeys(use.values(), 20.0))
    draft.at_most({}, 3.0, used=dict.fromkeys(use.values(), 1.0))
    without = f"without {month}"
    draft.minimum[without] = draft.maximum[without] = 1.0
    draft.at_least({without: 1.0, use["OIL3"]: 1.0 / 20.0}, 1.0)
    for oil in ("VEG1", "VEG2"):
        draft.at_most({}, 1.0, used={use[oil]: 1.0, without: 1.0})
