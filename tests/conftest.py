"""What several tests share: a small library of their own, and the site's program."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from small_library import make


@pytest.fixture
def small_library(tmp_path: Path) -> Path:
    """The small library, in a folder of this test alone."""
    return make(tmp_path / "library")


@pytest.fixture(scope="session")
def mkdocs() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Runs the site's generator in a library, as people do."""

    def run(root: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "mkdocs", *arguments]
        return subprocess.run(command, cwd=root, capture_output=True, text=True, timeout=120)

    return run
