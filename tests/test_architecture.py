"""Dependencies run one way: the imports of every module against one table of allowed edges."""

from __future__ import annotations

import ast
import importlib.util
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import harnessdsl

PACKAGE = Path(harnessdsl.__file__).parent

GROUND = {"text", "diagnostics", "resources", "quantity", "files", "threads"}

STAGES = {
    "language", "model", "electric", "rules", "faults", "plans", "exchange", "drawing", "book",
}  # fmt: skip

ALLOWED: dict[str, set[str]] = {
    # who -> whom they may import; everything may import the ground floor
    "text": set(),
    "resources": set(),
    "files": set(),
    "threads": set(),
    "diagnostics": {"text"},
    "quantity": set(),
    "language": set(),
    "model": {"language"},  # facts become a vehicle
    "electric": {"model"},
    "rules": {"model", "electric"},
    "faults": {"language", "model", "electric"},  # a case file is facts too
    "plans": {"model", "language", "electric", "rules"},
    "exchange": {"model"},  # lists for spreadsheets, out and in
    "drawing": {"model"},  # values arrive as annotations
    "book": {"model", "electric", "rules", "faults", "plans", "exchange", "drawing"},
    "pipeline": STAGES,
    "cli": STAGES | {"pipeline"},
    "__main__": {"cli"},
    "__init__": STAGES | {"pipeline"},
}

THIRD_PARTY_HOMES: dict[str, set[str]] = {
    "lark": {"language"},
    "numpy": {"electric", "faults"},
    "scipy": {"electric", "faults"},
    "openpyxl": {"exchange"},
    "click": {"cli"},
    "rich": {"cli"},
    "platformdirs": {"cli"},
    "svgwrite": {"drawing"},
    "graphviz": {"drawing"},
    "pygraphviz": {"drawing"},
}

HEAVY = {"numpy", "scipy", "pygraphviz", "graphviz", "svgwrite", "selenium"}
"""Must not be loaded by merely starting the command line."""

IMPORT_SECONDS = 0.25
"""What the command line's imports may cost in processor time, interpreter start not counted."""


def modules() -> list[tuple[str, Path]]:
    """Return every module's dotted name below the package, and its file."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        if parts[-1] == "__init__" and len(parts) > 1:
            parts = parts[:-1]
        found.append((".".join(parts), path))
    return found


def imports(name: str, path: Path) -> Iterator[tuple[int, str, bool]]:
    """Yield (line, dotted name, at import time?) of everything that a module imports.

    `from a import b` counts as `a.b` when that is a module, and imports for type checking count
    like any other.
    """
    tree = ast.parse(path.read_text(encoding="utf-8"), str(path))
    inside = {
        node
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for node in ast.walk(function)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name, node not in inside
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                package = ["harnessdsl", *name.split(".")]
                if path.name == "__init__.py":
                    package.append("_")
                base = ".".join([*package[: -node.level], *([base] if base else [])])
            for alias in node.names:
                whole = f"{base}.{alias.name}"
                yield node.lineno, whole if _is_module(whole) else base, node not in inside


def _is_module(dotted: str) -> bool:
    if not dotted.startswith("harnessdsl."):
        return False
    path = PACKAGE.joinpath(*dotted.split(".")[1:])
    return path.with_suffix(".py").is_file() or (path / "__init__.py").is_file()


def home(name: str) -> str:
    return name.split(".")[0]


def own_imports() -> list[tuple[str, Path, int, str, bool]]:
    """Return (importer, file, line, imported module below the package, at import time?)."""
    return [
        (name, path, line, target.removeprefix("harnessdsl").lstrip(".") or "__init__", early)
        for name, path in modules()
        for line, target, early in imports(name, path)
        if target.split(".")[0] == "harnessdsl"
    ]


def test_every_part_of_the_package_has_its_line_in_the_table() -> None:
    assert {home(name) for name, _ in modules()} <= set(ALLOWED)
    assert len(modules()) > 10


def test_imports_run_one_way() -> None:
    wrong = []
    for name, path, line, target, _ in own_imports():
        here = home(name)
        allowed = ALLOWED[here] | (GROUND if here not in GROUND else set())
        permitted = any(target == edge or target.startswith(edge + ".") for edge in allowed)
        if home(target) != here and not permitted and target != "__init__":
            wrong.append(f"{path.relative_to(PACKAGE)}:{line}: {here} imports {target}")
    assert wrong == []


def test_nothing_inside_imports_the_public_face() -> None:
    """`import harnessdsl` for its version is the only thing that may come from the top."""
    wrong = [
        f"{path.relative_to(PACKAGE)}:{line}"
        for name, path, line, target, _ in own_imports()
        if target == "__init__" and home(name) not in ("cli", "book", "__main__")
    ]
    assert wrong == []


def test_no_module_imports_itself_in_a_circle() -> None:
    edges: dict[str, set[str]] = {}
    for name, _, _, target, early in own_imports():
        if early and target != "__init__":
            edges.setdefault(name, set()).add(target)
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join([*trail[trail.index(name) :], name])
        if name not in done:
            for target in sorted(edges.get(name, ())):
                if target != name:
                    visit(target, (*trail, name))
            done.add(name)

    for name in sorted(edges):
        visit(name, ())


def test_libraries_stay_in_their_homes() -> None:
    wrong = []
    for name, path in modules():
        for line, target, _ in imports(name, path):
            library = target.split(".")[0]
            if library == "harnessdsl" or library in sys.stdlib_module_names:
                continue
            if home(name) not in THIRD_PARTY_HOMES.get(library, set()):
                wrong.append(f"{path.relative_to(PACKAGE)}:{line}: {home(name)} imports {library}")
    assert wrong == []


def test_there_is_no_module_for_odds_and_ends() -> None:
    assert [
        n for n, _ in modules() if n.split(".")[-1] in {"utils", "helpers", "common", "misc"}
    ] == []


@pytest.mark.skipif(
    importlib.util.find_spec("harnessdsl.cli.main") is None, reason="no command line yet"
)
def test_starting_the_command_line_loads_nothing_heavy() -> None:
    script = (
        "import sys, harnessdsl.cli.main; print(*sorted({m.split('.')[0] for m in sys.modules}))"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    ).stdout.split()
    assert HEAVY & set(loaded) == set()


@pytest.mark.skipif(not hasattr(os, "wait4"), reason="processor time of one child not known here")
def test_importing_the_command_line_is_quick(tmp_path: Path) -> None:
    """From bytecode, as in any installation, even where the environment forbids writing it."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(tmp_path)

    def processor_seconds(script: str) -> float:
        child = subprocess.Popen([sys.executable, "-c", script], env=environment)
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        assert child.returncode == 0
        return used.ru_utime + used.ru_stime

    bare = min(processor_seconds("pass") for _ in range(3))
    whole = min(processor_seconds("import harnessdsl.cli.main") for _ in range(3))
    assert whole - bare < IMPORT_SECONDS
