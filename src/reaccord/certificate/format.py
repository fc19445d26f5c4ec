"""The certificate file: JSON in which every number is a fraction written as text. Standard library only.

- schema: "reaccord certificate 2"
- study: title, and the SHA-256 of every file the programme was stated from
- programme: batch_g; columns (label, basis, minimum, maximum or null); rows (label, low, high, factor_squared,
  content); limits (kind, subject, label, amounts, used, most); strengths (columns of each strength of each material)
- formula: gram by label of the column, unrounded
- claim: value of the formula, bound, gap, excess (by how much the formula may miss a limit, relative)
- duals: levels, mu, limits: what a leaf is computed from
- tree: nodes, the first one the root; a child is the number of a later node, or null where nothing is left

  - `{"leaf": d}`: bounded by duals d
  - `{"column": i, "off": node, "on": node}`: column i unused, or used
  - `{"material": g, "none": node, "only": [node]}`: of a material's strengths none, or only one
  - `{"fixed": [[i, "off" or "on"]], "by": d, "then": node}`: the other choice is bounded by duals d
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NoReturn

SCHEMA = "reaccord certificate 2"
LONGEST = 4000
"""Most digits of a number in a certificate."""
_RATIONAL = re.compile(rf"-?[0-9]{{1,{LONGEST}}}(/[0-9]{{1,{LONGEST}}})?")
_CHILDREN = {"leaf": ("leaf",), "column": ("column", "off", "on"), "material": ("material", "none", "only")}
_CHILDREN["fixed"] = ("fixed", "by", "then")

Numbers = tuple[Fraction, ...]
Node = Mapping[str, Any]


class Refused(Exception):
    """The certificate does not prove what it claims; the message says why."""


@dataclass(frozen=True)
class Row:
    """A row of the deviation: `factor_squared` times the squared distance of its share from [low, high]."""

    label: str
    low: Fraction
    high: Fraction
    factor_squared: Fraction
    content: Numbers


@dataclass(frozen=True)
class Limit:
    """`amounts @ x + used @ [x > 0] <= most`; kind and subject tell it from others, whatever its label."""

    kind: str
    subject: tuple[str, ...]
    label: str
    amounts: Numbers
    used: Numbers
    most: Fraction


@dataclass(frozen=True)
class Problem:
    """The programme of `reaccord.contract` in fractions; `maximum` None is unlimited."""

    batch: Fraction
    columns: tuple[str, ...]
    basis: Numbers
    minimum: Numbers
    maximum: tuple[Fraction | None, ...]
    rows: tuple[Row, ...]
    limits: tuple[Limit, ...]
    strengths: tuple[tuple[tuple[int, ...], ...], ...]


@dataclass(frozen=True)
class Duals:
    """What a leaf is computed from: a share at which each row is stated, multipliers of batch and limits."""

    levels: Numbers
    mu: Fraction
    limits: Numbers


@dataclass(frozen=True)
class Claim:
    """What the certificate claims; `excess` is the relative violation of a limit that it admits to."""

    value: Fraction
    bound: Fraction
    gap: Fraction
    excess: Fraction


@dataclass(frozen=True)
class Certificate:
    """A whole certificate; `formula` is gram by column label, `inputs` (file, SHA-256)."""

    title: str
    inputs: tuple[tuple[str, str], ...]
    problem: Problem
    formula: Mapping[str, Fraction]
    claim: Claim
    duals: tuple[Duals, ...]
    tree: tuple[Node, ...]


def read(text: str) -> Certificate:
    """Read a certificate; every fault raises `Refused`. That the numbers prove anything is not checked here."""
    try:
        data = json.loads(text, object_pairs_hook=_once, parse_float=_no_float, parse_constant=_no_float)
    except (ValueError, RecursionError):
        raise Refused("the file is not whole JSON with whole numbers and text only.") from None
    whole = _object(data, "the file", "schema", "study", "programme", "formula", "claim", "duals", "tree")
    if whole["schema"] != SCHEMA:
        raise Refused(f'the schema is not "{SCHEMA}".')
    study = _object(whole["study"], "study", "title", "inputs")
    inputs = [_object(entry, "an input", "file", "sha256") for entry in _list(study["inputs"], "inputs")]
    problem = _problem(whole["programme"])
    claim = _object(whole["claim"], "claim", "value", "bound", "gap", "excess")
    return Certificate(
        _text(study["title"], "title"),
        tuple((_text(entry["file"], "file"), _text(entry["sha256"], "sha256")) for entry in inputs),
        problem,
        {name: rational(grams, f"formula, {name}") for name, grams in _mapping(whole["formula"], "formula").items()},
        Claim(**{name: rational(text, name) for name, text in claim.items()}),
        tuple(_duals(entry, problem) for entry in _list(whole["duals"], "duals")),
        tuple(_node(entry) for entry in _list(whole["tree"], "tree")),
    )


def rational(value: object, what: str) -> Fraction:
    """Return a fraction written as `"p"` or `"p/q"`."""
    if not isinstance(value, str) or not _RATIONAL.fullmatch(value):
        raise Refused(f"{what}: a number must be written as a fraction of whole numbers in quotes.")
    top, _, bottom = value.partition("/")
    if bottom and not int(bottom):
        raise Refused(f"{what}: a fraction over zero.")
    return Fraction(int(top), int(bottom or "1"))


def _problem(data: object) -> Problem:
    found = _object(data, "programme", "batch_g", "columns", "rows", "limits", "strengths")
    columns = [
        _object(entry, "a column", "label", "basis", "minimum", "maximum")
        for entry in _list(found["columns"], "columns")
    ]
    n = len(columns)
    labels = tuple(_text(entry["label"], "label of a column") for entry in columns)
    return Problem(
        batch=rational(found["batch_g"], "batch_g"),
        columns=labels,
        basis=_numbers([entry["basis"] for entry in columns], n, "basis"),
        minimum=_numbers([entry["minimum"] for entry in columns], n, "minimum"),
        maximum=tuple(None if e["maximum"] is None else rational(e["maximum"], "maximum") for e in columns),
        rows=tuple(_row(entry, n) for entry in _list(found["rows"], "rows")),
        limits=tuple(_limit(entry, n) for entry in _list(found["limits"], "limits")),
        strengths=tuple(
            tuple(tuple(index(i, n, "strengths") for i in _list(s, "strengths")) for s in _list(g, "strengths"))
            for g in _list(found["strengths"], "strengths")
        ),
    )


def _row(entry: object, n: int) -> Row:
    found = _object(entry, "a row", "label", "low", "high", "factor_squared", "content")
    label = _text(found["label"], "label of a row")
    low, high, factor = (rational(found[name], f"{label}, {name}") for name in ("low", "high", "factor_squared"))
    return Row(label, low, high, factor, _numbers(found["content"], n, f"{label}, content"))


def _limit(entry: object, n: int) -> Limit:
    found = _object(entry, "a limit", "kind", "subject", "label", "amounts", "used", "most")
    kind, label = (_text(found[name], f"{name} of a limit") for name in ("kind", "label"))
    subject = tuple(_text(word, f"{label}, subject") for word in _list(found["subject"], f"{label}, subject"))
    amounts, used = (_numbers(found[name], n, f"{label}, {name}") for name in ("amounts", "used"))
    return Limit(kind, subject, label, amounts, used, rational(found["most"], f"{label}, most"))


def _duals(entry: object, problem: Problem) -> Duals:
    found = _object(entry, "duals", "levels", "mu", "limits")
    return Duals(
        _numbers(found["levels"], len(problem.rows), "levels"),
        rational(found["mu"], "mu"),
        _numbers(found["limits"], len(problem.limits), "duals of the limits"),
    )


def _node(entry: object) -> Node:
    found = _mapping(entry, "a node of the tree")
    for kind, keys in _CHILDREN.items():
        if kind in found:
            return _object(entry, f"a {kind} node", *keys)
    raise Refused("a node of the tree is neither leaf nor branching.")


def index(value: object, below: int, what: str) -> int:
    """Return a whole number from 0 to below `below`."""
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < below:
        raise Refused(f"{what}: {value!r:.40} is no number from 0 to {below - 1}.")
    return value


def _numbers(value: object, count: int, what: str) -> Numbers:
    entries = _list(value, what)
    if len(entries) != count:
        raise Refused(f"{what}: {len(entries)} numbers where there must be {count}.")
    return tuple(rational(entry, what) for entry in entries)


def _object(value: object, what: str, *keys: str) -> dict[str, Any]:
    found = _mapping(value, what)
    if set(found) != set(keys):
        raise Refused(f"{what} must have {', '.join(keys)} and nothing else.")
    return found


def _mapping(value: object, what: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise Refused(f"{what} must be an object.")
    return value


def _list(value: object, what: str) -> list[Any]:
    if not isinstance(value, list):
        raise Refused(f"{what} must be a list.")
    return value


def _text(value: object, what: str) -> str:
    if not isinstance(value, str):
        raise Refused(f"{what} must be text.")
    return value


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice")
    return found


def _no_float(text: str) -> NoReturn:
    raise ValueError(text)


def write(certificate: Certificate) -> str:
    """Return the text of a certificate; `read` gives it back."""
    problem, claim = certificate.problem, certificate.claim
    programme = {
        "batch_g": str(problem.batch),
        "columns": [
            {"label": label, "basis": str(b), "minimum": str(low), "maximum": None if high is None else str(high)}
            for label, b, low, high in zip(
                problem.columns, problem.basis, problem.minimum, problem.maximum, strict=True
            )
        ],
        "rows": [
            {**_texts(row, "low", "high", "factor_squared"), "content": _all(row.content)} for row in problem.rows
        ],
        "limits": [
            {
                "kind": row.kind,
                "subject": row.subject,
                **_texts(row, "most"),
                "amounts": _all(row.amounts),
                "used": _all(row.used),
            }
            for row in problem.limits
        ],
        "strengths": problem.strengths,
    }
    data = {
        "schema": SCHEMA,
        "study": {
            "title": certificate.title,
            "inputs": [{"file": name, "sha256": digest} for name, digest in certificate.inputs],
        },
        "programme": programme,
        "formula": {name: str(grams) for name, grams in certificate.formula.items()},
        "claim": {name: str(getattr(claim, name)) for name in ("value", "bound", "gap", "excess")},
        "duals": [{"levels": _all(d.levels), "mu": str(d.mu), "limits": _all(d.limits)} for d in certificate.duals],
        "tree": list(certificate.tree),
    }
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")) + "\n"


def _texts(row: Row | Limit, *names: str) -> dict[str, str]:
    return {"label": row.label, **{name: str(getattr(row, name)) for name in names}}


def _all(numbers: Iterable[Fraction]) -> list[str]:
    return [str(number) for number in numbers]
