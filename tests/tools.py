"""What some tests need: programs from outside, and a disk that is full."""

from __future__ import annotations

import os
import resource
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NoReturn

import pytest


def missing(what: str) -> NoReturn:
    """Skip at home, where a tool may be missing; fail where the checks must be complete."""
    if os.environ.get("CI"):
        pytest.fail(what)
    pytest.skip(what)


@contextmanager
def full_disk(room: int = 100) -> Iterator[None]:
    """A disk on which no file can grow beyond some bytes: what is longer is half written, then fails."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (room, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
