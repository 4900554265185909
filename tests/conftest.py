"""What several tests share: a small library of their own, and the site's program."""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from alarmtrees.check.rules import RULES
from alarmtrees.site.build import build_all
from alarmtrees.site.markup import Page, SiteFile
from once import once
from small_library import make, shipped_library


@pytest.fixture
def small_library(tmp_path: Path) -> Path:
    """The small library, in a folder of this test alone."""
    return make(tmp_path / "library")


@pytest.fixture(scope="session")
def shipped_site(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Page], list[SiteFile]]:
    """All pages and files of this repository's own library. Nobody may change them."""

    def build(folder: Path) -> None:
        (folder / "site.pickle").write_bytes(pickle.dumps(build_all(shipped_library(), RULES)))

    made: tuple[list[Page], list[SiteFile]] = pickle.loads(
        (once(tmp_path_factory, "pages", build) / "site.pickle").read_bytes()
    )
    return made


@pytest.fixture(scope="session")
def mkdocs() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Runs the site's generator in a library, as people do."""

    def run(root: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "mkdocs", *arguments]
        return subprocess.run(command, cwd=root, capture_output=True, text=True, timeout=120)

    return run
