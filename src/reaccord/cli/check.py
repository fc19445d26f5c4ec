"""`reaccord check`: everything read, every finding reported, nothing solved."""

from __future__ import annotations

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result


@command()
def check(study: opt.Study, options: opt.Options) -> Result:
    """Read everything, report every finding at once, solve nothing."""
    from reaccord.cli.inputs import read_study
    from reaccord.report.check import check_csv, check_data, check_text

    found = read_study(study, options)
    return Result(
        check_data(found), lambda width: check_text(found, width), lambda: check_csv(found), warnings=found.warnings
    )
