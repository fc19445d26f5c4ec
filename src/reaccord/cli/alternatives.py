"""`reaccord alternatives`: other formulas nearly as close."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from reaccord.cli import numbers
from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError

if TYPE_CHECKING:
    from reaccord.domain.study import Study


@command()
def alternatives(
    study: opt.Study,
    within: Annotated[
        str,
        typer.Option(
            "--within",
            metavar="X",
            help="The deviation allowed: a value, or '5 %' above the closest formula's.",
            show_default=False,
        ),
    ],
    count: Annotated[
        str, typer.Option("--count", metavar="N", help="How many at most, beside the closest; default 3.")
    ] = "3",
    bottles: Annotated[
        str | None,
        typer.Option("--bottles", metavar="D", help="Each does without D bottles of those before it; default 2."),
    ] = None,
    moved: Annotated[
        str | None,
        typer.Option(
            "--moved",
            metavar="M",
            help="Instead, or too: each moves so much mass of those before it, 20 % or 2 g.",
        ),
    ] = None,
    ranges: Annotated[
        str | None,
        typer.Option("--ranges", metavar="NAME,...", help="Least and most of these materials only; none: of none."),
    ] = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Find other formulas nearly as close, and what all of them share."""
    most, number = numbers.within_of(within), numbers.whole_of("--count", count, 1)
    dropped = (2 if moved is None else 0) if bottles is None else numbers.whole_of("--bottles", bottles, 1)
    far = None if moved is None else numbers.share_or_gram_of("--moved", moved)
    from reaccord.cli.inputs import read_study
    from reaccord.cli.progress import bar
    from reaccord.cli.searching import Searching
    from reaccord.questions import alternatives as question
    from reaccord.questions.cheapest import Within
    from reaccord.questions.moved_apart import Moved
    from reaccord.report.alternatives import alternatives_csv, alternatives_data, alternatives_text

    read = read_study(study, options)
    asked = None if ranges is None else _materials(read, ranges)
    differing = question.Differing(dropped, None if far is None else Moved(*far))
    with Searching(read, limits, quiet=True) as searching, bar(options.quiet, "searches", number) as told:
        found = question.alternatives(read, Within(*most), number, differing, searching.budget, told, ranges=asked)
    return Result(
        alternatives_data(found),
        lambda width: alternatives_text(found, width),
        lambda: alternatives_csv(found),
        found.status,
        searching.code(proven=found.status == "proven"),
        read.warnings,
    )


def _materials(study: Study, text: str) -> list[str]:
    """Return the materials that `--ranges` names.

    Raises
    ------
    UsageError
        If no bottle that may be poured is called so.
    """
    from reaccord.names.key import did_you_mean, name_key, nearest

    if text.strip().casefold() == "none":
        return []
    known = {name_key(stock.key.material): stock.key.material for stock in study.stocks}
    found = []
    for name in filter(None, (part.strip() for part in text.split(";" if ";" in text else ","))):
        if name_key(name) not in known:
            raise UsageError(f'--ranges: no bottle is called "{name}".{did_you_mean(nearest(name, known.values()))}')
        found.append(known[name_key(name)])
    return found
