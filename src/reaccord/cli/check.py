"""`reaccord check`: everything read, every finding reported, nothing solved."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError


@command()
def check(
    study: opt.Study,
    synonyms: Annotated[
        Path | None, opt.path_option("--synonyms", "Also write a constituents table of the names asked about (CSV).")
    ] = None,
    *,
    options: opt.Options,
) -> Result:
    """Read everything, report every finding at once, solve nothing."""
    from reaccord.cli.inputs import read_study
    from reaccord.report.check import check_csv, check_data, check_text

    found = read_study(study, options, synonyms)
    if synonyms is not None:
        from reaccord.report.files import same_file, write_whole
        from reaccord.report.synonyms import synonyms_csv

        if same_file(synonyms, options.out) or same_file(synonyms, options.log):
            raise UsageError(f"--synonyms {synonyms}: another output goes to that file; name a file of its own.")
        write_whole(synonyms, synonyms_csv(found))
    return Result(
        check_data(found), lambda width: check_text(found, width), lambda: check_csv(found), warnings=found.warnings
    )
