"""How the house is built: floors, and what is asked of others. The contracts stand in pyproject.toml."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path

import grimp
import pytest
from importlinter.cli import lint_imports

from cases.bundle import REPO

PROJECT = REPO / "pyproject.toml"


def test_the_floors_hold(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(REPO)
    assert lint_imports(config_filename=str(PROJECT), cache_dir=str(tmp_path), verbose=False) == 0


def test_a_broken_floor_is_seen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The contracts can fail: with the lowest floor put on top, they do."""
    upside_down = (
        PROJECT.read_text("utf-8").replace('    "model",\n]', "]").replace("layers = [", 'layers = ["model",', 1)
    )
    (tmp_path / "pyproject.toml").write_text(upside_down, "utf-8")
    monkeypatch.chdir(REPO)
    assert lint_imports(config_filename=str(tmp_path / "pyproject.toml"), cache_dir=None) == 1


def test_only_declared_packages_are_imported() -> None:
    wanted = tomllib.loads(PROJECT.read_text("utf-8"))["project"]["dependencies"]
    named = {name.lower().partition(">")[0].partition("=")[0] for name in wanted}
    packages = {
        "yaml": "pyyaml",
        "material": "mkdocs-material",
        "jsonschema_rs": "jsonschema-rs",
        "minify": "tdewolff-minify",
    }
    graph = grimp.build_graph("alarmtrees", "circulation", include_external_packages=True)
    asked = {module for module in graph.modules if graph.is_module_squashed(module)} - set(sys.stdlib_module_names)
    assert {packages.get(name, name) for name in asked} <= named
    assert {"networkx", "mkdocs", "numpy"} <= asked
