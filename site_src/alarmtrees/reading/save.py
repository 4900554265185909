"""Writes a file whole, or not at all: whoever reads it meanwhile finds the old one or the new one."""

from __future__ import annotations

import os
from pathlib import Path


def save(path: Path, text: str, new: bool = False) -> None:
    """Write a text with its line ends as they are.

    Args:
        path: the file; what stood there is replaced.
        text: its content.
        new: whether the file must not exist yet.

    Raises:
        FileExistsError: it exists, and must not.
        OSError: it cannot be written; what stood there stays.
    """
    # With the process's number, so that two programs at work on one file do not meet in the half one.
    half = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        half.write_text(text, encoding="utf-8", newline="")
        if new:
            _link(half, path)
        else:
            half.replace(path)
    finally:
        half.unlink(missing_ok=True)


def _link(half: Path, path: Path) -> None:
    """Give a file its name where that is free."""
    try:
        os.link(half, path)  # fails where the file has come into being meanwhile
    except FileExistsError:
        raise FileExistsError(f"there is a file {path} already") from None
    except OSError:  # a drive without links
        if path.exists():
            raise FileExistsError(f"there is a file {path} already") from None
        half.replace(path)
