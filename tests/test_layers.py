"""The floors of the design, section 2: a module imports nothing from a higher floor, and nothing in a circle."""

from __future__ import annotations

import ast
from pathlib import Path

import networkx as nx
import pytest

from cases.bundle import REPO

PACKAGE = REPO / "site_src" / "alarmtrees"

# From the ground up; what the design names, and what stands beside it. `pages` and `rules` are folders, all of
# whose modules stand on one floor. A new module has to be given its floor here.
FLOORS = [
    ["__init__"],
    ["model", "finding"],
    ["load", "schema", "stamp", "wording", "quantities", "texts", "articles", "library", "calc"],
    [
        *("graph", "simulate", "economy", "resting", "patterns", "evidence"),
        *("finder", "offline", "provenance", "ownership", "history"),
    ],
    ["rules"],
    ["check"],
    [
        *("report", "advice", "pages", "compare", "practice", "questions", "questions_csv", "exports"),
        *("walk", "sign", "new", "calculate"),
    ],
    ["cli", "plugin"],
]
FLOOR = {module: floor for floor, modules in enumerate(FLOORS) for module in modules}

MODULES = sorted(PACKAGE.rglob("*.py"))
GENERATOR = {"mkdocs", "material", "mkdocs_material", "markdown", "jinja2", "pymdownx"}


def dotted(path: Path) -> str:
    """A module's name below the package: `rules.cycle`, `pages`, `__init__`."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if len(parts) > 1 and parts[-1] == "__init__" else parts)


def imports(source: str, module: str, is_folder: bool = False) -> tuple[set[str], set[str]]:
    """What a module imports, wherever in its text: of the package (names below it), and of others (first names)."""
    own: set[str] = set()
    others: set[str] = set()
    here = module.split(".") if is_folder else module.split(".")[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                first, _, rest = alias.name.partition(".")
                (own if first == "alarmtrees" else others).add((rest or "__init__") if first == "alarmtrees" else first)
        elif isinstance(node, ast.ImportFrom):
            base = (node.module or "").split(".") if node.module else []
            if node.level:
                base = [*here[: len(here) - node.level + 1], *base]
            elif base[0] == "alarmtrees":
                base = base[1:]
            else:
                others.add(base[0])
                continue
            for alias in node.names:
                own.add(resolved([*base, alias.name]))
    return own, others


def resolved(parts: list[str]) -> str:
    """The module that a dotted name lies in: `check.check_library` lies in `check`."""
    while parts:
        path = PACKAGE.joinpath(*parts)
        if path.with_suffix(".py").is_file() or (path / "__init__.py").is_file():
            return ".".join(parts)
        parts = parts[:-1]
    return "__init__"


def imported(path: Path) -> tuple[set[str], set[str]]:
    return imports(path.read_text("utf-8"), dotted(path), path.name == "__init__.py")


def top(module: str) -> str:
    return module.split(".")[0]


def test_every_module_has_a_floor() -> None:
    assert {top(dotted(path)) for path in MODULES} <= set(FLOOR)


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_a_module_imports_nothing_from_a_higher_floor(path: Path) -> None:
    own, _ = imported(path)
    mine = FLOOR[top(dotted(path))]
    assert {module for module in own if FLOOR[top(module)] > mine} == set()


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_only_the_plugin_knows_the_sites_generator(path: Path) -> None:
    """It will be replaced one day; then nothing but plugin.py and theme/ may have to change."""
    _, others = imported(path)
    if dotted(path) != "plugin":
        assert others & GENERATOR == set()


def test_the_plugin_is_what_knows_it() -> None:
    assert "mkdocs" in imported(PACKAGE / "plugin.py")[1]


def test_no_modules_import_each_other_in_a_circle() -> None:
    graph = nx.DiGraph()
    for path in MODULES:
        for module in imported(path)[0]:
            if module != dotted(path):
                graph.add_edge(dotted(path), module)
    assert [sorted(knot) for knot in nx.strongly_connected_components(graph) if len(knot) > 1] == []


def test_rules_know_of_each_other_through_the_registry_only() -> None:
    for path in (PACKAGE / "rules").glob("*.py"):
        if path.stem != "__init__":
            own = {module for module in imported(path)[0] if top(module) == "rules"}
            assert own <= {"rules.base"}, path.name


def test_only_declared_packages_are_imported() -> None:
    import sys
    import tomllib

    wanted = tomllib.loads((REPO / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    named = {name.lower().partition(">")[0].partition("=")[0] for name in wanted}
    packages = {"yaml": "pyyaml", "material": "mkdocs-material"}
    beside = {path.name for path in (REPO / "site_src").iterdir() if (path / "__init__.py").is_file()}
    others = {name for path in MODULES for name in imported(path)[1]} - set(sys.stdlib_module_names) - beside
    assert {packages.get(name, name) for name in others} <= named


@pytest.mark.parametrize(
    ("source", "module", "own", "others"),
    [
        ("from .check import check_library", "report", {"check"}, set()),
        ("from . import __version__", "report", {"__init__"}, set()),
        ("from . import schema", "library", {"schema"}, set()),
        ("from ..model import Tree", "rules.cycle", {"model"}, set()),
        ("from .base import View", "rules.cycle", {"rules.base"}, set()),
        ("import alarmtrees.check", "graph", {"check"}, set()),
        ("from alarmtrees import cli", "graph", {"cli"}, set()),
        ("def f():\n    import mkdocs.config", "graph", set(), {"mkdocs"}),
        ("from yaml import load\nimport json", "load", set(), {"yaml", "json"}),
    ],
)
def test_how_imports_are_read(source: str, module: str, own: set[str], others: set[str]) -> None:
    assert imports(source, module) == (own, others)
