"""The layers of the house: who may import whom, no cycles, and what the core must not do.

The table below is the one in DEVELOPERS.md; imports are read from the syntax tree of every module.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "grooveforge"
NAME = "grooveforge"


@dataclass(frozen=True)
class Room:
    """What a room may import: rooms of ours, packages, and packages only inside functions."""

    ours: frozenset[str]
    packages: frozenset[str] = frozenset()
    inside_functions: frozenset[str] = frozenset()


def room(ours: str, packages: str = "", inside_functions: str = "") -> Room:
    return Room(frozenset(ours.split()), frozenset(packages.split()), frozenset(inside_functions.split()))


ROOMS = {
    "errors": room(""),
    "files": room("files errors"),
    "core": room("core errors", "numpy"),
    "analysis": room("core analysis errors", "numpy"),
    "formats": room("core formats errors", "numpy mido tomlkit", "pretty_midi verovio"),
    "sound": room("core sound errors", "numpy", "fluidsynth"),
    "project": room("core analysis formats sound files errors project", "numpy"),
    "page": room("core analysis formats sound files project errors page", "numpy starlette uvicorn"),
    "cli": room("core analysis formats sound files project errors page cli", "numpy typer", "mido"),
    "__init__": room("core analysis formats sound files project errors"),
    "__main__": room("cli"),
}


@dataclass(frozen=True)
class Import:
    """One import: the dotted module, where it stands, and whether it waits inside a function."""

    module: str
    line: int
    inside_function: bool


@dataclass
class _Finder(ast.NodeVisitor):
    found: list[Import] = field(default_factory=list)
    depth: int = 0
    typing_only: int = 0

    def _function(self, node: ast.AST) -> None:
        self.depth += 1
        self.generic_visit(node)
        self.depth -= 1

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self._function(node)

    def visit_AsyncFunctionDef(self, node: ast.AsyncFunctionDef) -> None:
        self._function(node)

    def visit_Import(self, node: ast.Import) -> None:
        self.found += [Import(alias.name, node.lineno, self.depth > 0) for alias in node.names]

    def visit_ImportFrom(self, node: ast.ImportFrom) -> None:
        assert node.level == 0, f"line {node.lineno}: imports are written in full"
        module = str(node.module)
        # "from grooveforge.core import tempo" may name a module; both spellings count as that module.
        named = [f"{module}.{alias.name}" for alias in node.names]
        whole = [name for name in named if _path_of(name) is not None]
        self.found += [Import(name, node.lineno, self.depth > 0) for name in whole or [module]]


def _path_of(module: str) -> Path | None:
    parts = module.split(".")
    if parts[0] != NAME:
        return None
    base = PACKAGE.joinpath(*parts[1:])
    for path in (base.with_suffix(".py"), base / "__init__.py"):
        if path.is_file():
            return path
    return None


def imports_of(path: Path) -> list[Import]:
    finder = _Finder()
    finder.visit(ast.parse(path.read_text(encoding="utf-8")))
    return finder.found


def room_of(module: str) -> str:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "__init__"


def modules() -> Iterator[tuple[str, Path]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        yield ".".join((NAME, *(part for part in parts if part != "__init__"))), path


MODULES = dict(modules())


def faults_of(module: str, path: Path) -> list[str]:
    """Every import of a module that the table does not allow."""
    allowed = ROOMS[room_of(module)]
    faults = []
    for item in imports_of(path):
        top = item.module.split(".")[0]
        place = f"{module}:{item.line}: {item.module}"
        if top == NAME:
            if room_of(item.module) not in allowed.ours and item.module != NAME:
                faults.append(place)
        elif top not in sys.stdlib_module_names | allowed.packages and not (
            item.inside_function and top in allowed.inside_functions
        ):
            faults.append(place)
    return faults


@pytest.mark.parametrize("module", MODULES)
def test_imports_follow_the_table(module: str) -> None:
    """A module imports only what its room may."""
    assert faults_of(module, MODULES[module]) == []


def test_every_room_is_in_the_table() -> None:
    """No room of the package is without a row, and no row without a room."""
    assert {room_of(module) for module in MODULES} == set(ROOMS)


def test_no_cycles() -> None:
    """No module is reached again from itself through imports at the top of modules."""
    graph = {
        module: {item.module for item in imports_of(path) if item.module in MODULES and not item.inside_function}
        for module, path in MODULES.items()
    }
    done: set[str] = set()

    def walk(module: str, trail: tuple[str, ...]) -> None:
        assert module not in trail, " -> ".join((*trail, module))
        if module in done:
            return
        for target in graph[module] - {module}:
            walk(target, (*trail, module))
        done.add(module)

    for module in graph:
        walk(module, ())


FORBIDDEN_CALLS = {"open", "print", "input"}
FORBIDDEN_MODULES = {"time", "datetime", "os", "io", "pathlib"}


@pytest.mark.parametrize("module", [name for name in MODULES if room_of(name) in ("core", "analysis")])
def test_the_core_has_no_doors(module: str) -> None:
    """The core opens nothing, prints nothing, asks no clock and no global random source."""
    tree = ast.parse(MODULES[module].read_text(encoding="utf-8"))
    calls = {node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)}
    assert calls & FORBIDDEN_CALLS == set()
    assert {item.module.split(".")[0] for item in imports_of(MODULES[module])} & FORBIDDEN_MODULES == set()
    drawn = {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import) or (isinstance(node, ast.ImportFrom) and node.module == "random")
        for alias in node.names
        if isinstance(node, ast.ImportFrom) or alias.name == "random"
    }
    assert drawn <= {"Random"}, "only the class: the functions of the module share one generator"
    random = [
        ast.unparse(node)
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and ast.unparse(node).startswith("np.random.")
    ]
    assert {name for name in random if name not in ("np.random.Generator", "np.random.default_rng")} == set()


def test_only_files_opens_files() -> None:
    """`open` and the reading and writing methods of paths stand in `files` alone."""
    methods = {"read_bytes", "read_text", "write_bytes", "write_text", "open"}
    for module, path in MODULES.items():
        if room_of(module) == "files":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                called = node.func
                assert not (isinstance(called, ast.Name) and called.id == "open"), f"{module}:{node.lineno}"
                if isinstance(called, ast.Attribute) and called.attr in methods:
                    assert ast.unparse(called.value) == "files", f"{module}:{node.lineno}: {ast.unparse(node)}"


@pytest.mark.parametrize(
    ("source", "room_name"),
    [("import typer", "core"), ("from grooveforge.cli import main", "formats"), ("import pretty_midi", "formats")],
)
def test_a_wrong_import_is_found(source: str, room_name: str, tmp_path: Path) -> None:
    """The check itself finds an import that the table does not allow."""
    path = tmp_path / "planted.py"
    path.write_text(source, encoding="utf-8")
    assert len(faults_of(f"{NAME}.{room_name}.planted", path)) == 1
