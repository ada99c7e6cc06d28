"""The shape of the tree: which part may import which, how long files and functions may be, what lies on top."""

import ast
import subprocess
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parent.parent
FILES: Final = sorted((ROOT / "service").rglob("*.py"))

#: Each folder imports from itself and from those before it.
FOLDERS: Final = ("photo", "grain", "board", "judge", "show", "store", "app")

#: The same inside the web app.
APP_FOLDERS: Final = ("requests", "views", "workers", "routes")

#: Modules that anyone may import; they import nothing of the project but one another.
LEAVES: Final = frozenset(
    {
        "service",
        "service.errors",
        "service.language",
        "service.lengths",
        "service.settings",
        "service.sides",
        "service.sizes",
        "service.upload",
    }
)

LONGEST_FILE: Final = 350  # lines
LONGEST_FUNCTION: Final = 60  # lines

#: What lies in the top folder besides hidden files.
TOP: Final = {"README.md", "DEVELOPERS.md", "pyproject.toml", "service", "web", "tests", "demo_photos"}


def module_of(file: Path) -> str:
    """Return the name a file is imported by."""
    parts = file.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES: Final = {module_of(file): file for file in FILES}
TREES: Final = {name: ast.parse(file.read_text(encoding="utf-8")) for name, file in MODULES.items()}


def imports_of(name: str) -> set[str]:
    """Return the project's own modules that a module imports."""
    found: set[str] = set()
    for node in ast.walk(TREES[name]):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module is not None:
            longer = {f"{node.module}.{alias.name}" for alias in node.names}
            found.update(longer & MODULES.keys() or {node.module})
    return {module for module in found if module.split(".")[0] == "service"}


def folder_of(name: str) -> str | None:
    """Return the folder of `service` a module lies in; None for those directly in it."""
    part = name.split(".")[1] if "." in name else ""
    return part if part in FOLDERS else None


@pytest.mark.parametrize("name", sorted(MODULES))
def test_a_folder_imports_only_from_those_before_it(name: str) -> None:
    """Imports go one way: from the later folder to the earlier one, and to the leaves."""
    folder = folder_of(name)
    if name in LEAVES:
        assert imports_of(name) <= LEAVES
    elif folder is not None and folder != "app":
        allowed = FOLDERS[: FOLDERS.index(folder) + 1]

        assert [other for other in imports_of(name) - LEAVES if folder_of(other) not in allowed] == []


@pytest.mark.parametrize("name", sorted(name for name in MODULES if name.startswith("service.app.")))
def test_inside_the_app_imports_go_one_way_too(name: str) -> None:
    """A folder of the app imports from itself and from those before it; only what puts the app together sees all."""
    folder = name.split(".")[2]
    if folder != "web":
        later = APP_FOLDERS[APP_FOLDERS.index(folder) + 1 :]
        inside = [other.split(".")[2] for other in imports_of(name) if other.startswith("service.app.")]

        assert {*later, "web"} & set(inside) == set()


def test_every_folder_has_its_place() -> None:
    """No folder of `service` or of its app is left out of the order."""
    there = {file.relative_to(ROOT / "service").parent for file in FILES}

    assert there == {Path(), *map(Path, FOLDERS), *(Path("app", folder) for folder in APP_FOLDERS)}


def test_there_is_no_import_cycle() -> None:
    """The modules can be put in an order in which each imports only earlier ones."""
    graph = {name: imports_of(name) - {name} for name in MODULES}

    order = list(TopologicalSorter(graph).static_order())

    assert set(order) >= set(MODULES)


@pytest.mark.parametrize("name", sorted(MODULES))
def test_imports_stand_at_the_top(name: str) -> None:
    """No function imports anything."""
    functions = [node for node in ast.walk(TREES[name]) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    inside = [
        inner.lineno
        for function in functions
        for inner in ast.walk(function)
        if isinstance(inner, ast.Import | ast.ImportFrom)
    ]

    assert inside == []


@pytest.mark.parametrize("name", sorted(MODULES))
def test_files_and_functions_are_short(name: str) -> None:
    """No file is longer than 350 lines, no function longer than 60."""
    lines = MODULES[name].read_text(encoding="utf-8").count("\n")
    long = [
        node.name
        for node in ast.walk(TREES[name])
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and (node.end_lineno or 0) - node.lineno + 1 > LONGEST_FUNCTION
    ]

    assert lines <= LONGEST_FILE
    assert long == []


def test_the_top_folder_holds_what_it_should() -> None:
    """Nothing but the known entries is kept in the top folder."""
    kept = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)  # noqa: S607
    if kept.returncode:
        pytest.skip("not a clone, so what is kept cannot be told from what lies about")
    top = {Path(line).parts[0] for line in kept.stdout.splitlines()}

    assert {entry for entry in top if not entry.startswith(".")} == TOP


def test_no_module_is_cut_off() -> None:
    """Every module is reached from the command line's entry, so none is dead."""
    reached: set[str] = set()
    waiting = ["service.__main__"]
    while waiting:
        name = waiting.pop()
        if name not in reached:
            reached.add(name)
            parents = {name.rsplit(".", 1)[0]} if "." in name else set()
            waiting.extend((imports_of(name) | parents) & MODULES.keys())

    assert MODULES.keys() - reached == set()
