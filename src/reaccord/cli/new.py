"""`reaccord new`: a commented study to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.result import Result
from reaccord.findings import UsageError

ROOM = "reaccord.template"


@command()
def new(
    folder: Annotated[Path, opt.path_argument("FOLDER", "A folder that is new or empty.")],
    options: opt.Options,
) -> Result:
    """Write a commented study to fill in."""
    import shlex
    from importlib.resources import files

    from reaccord.report.files import new_folder, write_whole

    sources = [item for item in sorted(files(ROOM).iterdir(), key=lambda item: item.name) if _of_a_study(item.name)]
    for path in (options.out, options.log):
        if path is not None and path.resolve() in {(folder / source.name).resolve() for source in sources}:
            raise UsageError(f"{path} is a file of the new study; write somewhere else.")
    new_folder(folder)
    written = []
    for source in sources:
        write_whole(folder / source.name, source.read_text(encoding="utf-8"))
        written.append(source.name)
    data = {"folder": str(folder), "files": written}
    return Result(
        data,
        lambda width: (
            f"Wrote {', '.join(written)}.\n"
            f"Fill them in, then: reaccord check {shlex.quote(str(folder / 'study.toml'))}\n"
        ),
        lambda: "file\n" + "".join(f"{name}\n" for name in written),
    )


def _of_a_study(name: str) -> bool:
    return name.endswith((".toml", ".csv"))
