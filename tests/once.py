"""What is costly to make is made once in a run of the tests, whichever of its processes asks first."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

PATIENCE = 300
"""Seconds after which whoever waits for another process takes it for dead."""


def once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """A folder that holds what `make` writes into it.

    Args:
        factory: knows the folder of this run.
        name: of the folder; one name, one content.
        make: is given the new folder. It is called in one process only; the others wait until it is done.

    Returns:
        The folder, whole. Nobody may change it.

    Raises:
        pytest.fail.Exception: `make` has failed, here or in the process that came first; or that one is dead.
    """
    base = factory.getbasetemp()
    if os.environ.get("PYTEST_XDIST_WORKER"):
        base = base.parent  # each process has a folder of its own in that of the run
    folder, done = base / f"shared-{name}", base / f"shared-{name}.done"
    try:
        folder.mkdir()
    except FileExistsError:
        return _awaited(folder, done)
    fault = "the process that made it was stopped"
    try:
        make(folder)
        fault = ""
    except BaseException as raised:
        fault = f"{type(raised).__name__}: {raised}"
        raise
    finally:
        half = done.with_suffix(".half")
        half.write_text(fault, encoding="utf-8")
        half.replace(done)  # at once, so that nobody reads half a word
    return folder


def _awaited(folder: Path, done: Path) -> Path:
    """The folder that another has begun, or a fixture of this process before."""
    until = time.monotonic() + PATIENCE
    while not done.is_file():
        if time.monotonic() > until:
            pytest.fail(f"{folder.name}: not made within {PATIENCE} s")
        time.sleep(0.1)
    if fault := done.read_text(encoding="utf-8"):
        pytest.fail(f"{folder.name} could not be made: {fault}")
    return folder
