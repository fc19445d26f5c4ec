"""Imports point one way. Read from the source, those inside functions too."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src" / "reaccord"

LAYERS: tuple[tuple[str, ...], ...] = (
    ("findings",),
    ("domain",),
    ("contract",),
    ("names",),
    ("tables",),
    ("study",),
    ("programme",),
    ("solvers",),
    ("answer",),
    ("certificate",),
    ("balance", "safety"),
    ("questions",),
    ("report",),
    ("desk",),
    ("manual",),
    ("cli",),
    ("__main__",),
)
"""From the ground up; rooms of one floor may not import each other, the files of one room may."""

ONLY: dict[str, tuple[str, ...]] = {
    "solvers": ("contract", "findings", "solvers"),
    "answer.judge": ("domain", "answer.limits_held"),
    "answer.limits_held": ("domain",),
    "findings": (),
    "contract": ("domain.limit_key",),
    "certificate.format": (),
    "certificate.maxima": ("certificate.format",),
    "certificate.column": ("certificate.format",),
    "certificate.leaf": ("certificate.format", "certificate.maxima", "certificate.column"),
    "certificate.verify": ("certificate.format", "certificate.maxima", "certificate.column", "certificate.leaf"),
}
"""Rooms that may import these rooms of ours and no others."""

KEPT_OUT: dict[str, tuple[str, ...]] = {
    "answer.judge": ("numpy", "scipy", "pandas"),
    "answer.limits_held": ("numpy", "scipy", "pandas"),
    "domain": ("numpy", "scipy", "pandas"),
    "tables": ("numpy", "scipy"),
}
SOLVER_LIBRARIES = ("daqp", "clarabel", "cvxpy", "scipy.optimize", "pyscipopt", "highspy")
EXCEPTIONS = {("answer.fitted", "report.frames")}
"""A `Fit` gives frames, imported when asked for."""


def modules() -> list[str]:
    """Return every module below the package, as `study.parts`; packages by their own name."""
    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        parts = path.relative_to(SOURCE).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        if name:
            found.append(name)
    return found


def path_of(module: str) -> Path:
    path = SOURCE.joinpath(*module.split("."))
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


def for_types_only(tree: ast.Module) -> set[int]:
    """Return the lines under `if TYPE_CHECKING`: nothing is imported there when the program runs."""
    return {
        line.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
        for line in ast.walk(node)
        if isinstance(line, ast.Import | ast.ImportFrom)
    }


def imports(module: str) -> Iterator[str]:
    """Yield what a module imports, in full: `scipy.optimize.milp`, `reaccord.domain.stock.Stock`."""
    tree = ast.parse(path_of(module).read_text(encoding="utf-8"))
    skipped = for_types_only(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import) and node.lineno not in skipped:
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.lineno not in skipped:
            assert node.level == 0, f"{module}: a relative import hides where it points"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def within(name: str, room: str) -> bool:
    return name == room or name.startswith(f"{room}.")


def room_of(module: str) -> str:
    """Return the room a module belongs to: the longest name in `LAYERS` that covers it."""
    rooms = [room for layer in LAYERS for room in layer if within(module, room)]
    assert rooms, f"{module} stands on no floor: add it to LAYERS"
    return max(rooms, key=len)


def floor_of(module: str) -> int:
    room = room_of(module)
    return next(i for i, layer in enumerate(LAYERS) if room in layer)


def own_imports(module: str) -> list[str]:
    """Return the modules of ours that a module imports."""
    known = modules()
    found = []
    for name in imports(module):
        if within(name, "reaccord"):
            inner = name.removeprefix("reaccord").removeprefix(".")
            found.append(max((m for m in known if within(inner, m)), key=len, default=""))
    return [name for name in found if name]


@pytest.mark.parametrize("module", modules())
def test_imports_point_down(module: str) -> None:
    for other in own_imports(module):
        if room_of(other) == room_of(module) or (module, other) in EXCEPTIONS:
            continue
        assert floor_of(other) < floor_of(module), f"{module} imports {other}, which stands above or beside it"


@pytest.mark.parametrize("module", modules())
def test_closed_rooms_import_what_they_may(module: str) -> None:
    for room, allowed in ONLY.items():
        if within(module, room):
            for other in own_imports(module):
                assert any(within(other, name) for name in (*allowed, room)), f"{module} imports {other}"


@pytest.mark.parametrize("module", modules())
def test_solver_libraries_stay_in_their_room(module: str) -> None:
    if not within(module, "solvers"):
        for name in imports(module):
            assert not any(within(name, library) for library in SOLVER_LIBRARIES), f"{module} imports {name}"


@pytest.mark.parametrize("module", modules())
def test_rooms_stay_free_of_heavy_libraries(module: str) -> None:
    for room, libraries in KEPT_OUT.items():
        if within(module, room):
            for name in imports(module):
                assert not any(within(name, library) for library in libraries), f"{module} imports {name}"


def test_the_judge_never_reaches_the_solver_in_any_way() -> None:
    """Neither itself nor through what it imports: its figures are a second opinion."""
    reached, waiting = set[str](), ["answer.judge"]
    while waiting:
        module = waiting.pop()
        if module not in reached:
            reached.add(module)
            waiting += own_imports(module)
    assert not [m for m in reached if within(m, "contract") or within(m, "programme") or within(m, "solvers")]
    assert not [name for m in reached for name in imports(m) if within(name, "numpy")]


def test_only_what_shows_itself_in_a_notebook_asks_the_top() -> None:
    """The package's top resolves `as_html` when somebody looks, no sooner: no import, and so no way past the floors."""
    naming = {module for module in modules() if "as_html" in path_of(module).read_text(encoding="utf-8")}
    assert naming == {"domain.study", "answer.fitted", "report.notebook"}


def test_no_circle() -> None:
    """The files of a room may import each other, but not in a circle."""
    below = {m: {other for other in own_imports(m) if other != m and (m, other) not in EXCEPTIONS} for m in modules()}
    while free := [module for module, others in below.items() if not others & below.keys()]:
        for module in free:
            del below[module]
    assert not below, "these import each other, or what does"


def test_help_imports_no_heavy_library() -> None:
    code = (
        "import sys\n"
        "sys.argv = ['reaccord', '--help']\n"
        "from reaccord.cli.main import run\n"
        "try:\n    run()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "heavy = {'numpy', 'scipy', 'pandas', 'cvxpy', 'daqp', 'clarabel', 'openpyxl'}\n"
        "heavy |= {'starlette', 'uvicorn', 'tomlkit'}\n"
        "heavy &= set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "fit" in done.stdout


def test_importing_the_package_imports_no_heavy_library() -> None:
    code = "import sys, reaccord; heavy = {'numpy', 'scipy', 'pandas'} & set(sys.modules); assert not heavy, heavy"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
