"""Writes a file whole, or not at all: whoever reads it meanwhile finds the old one or the new one."""

from __future__ import annotations

import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path


def save(path: Path, text: str | bytes, new: bool = False, was: bytes | None = None) -> None:
    """Write a text with its line ends as they are, or bytes.

    Nothing is written through a link: one that stands in the file's place is replaced by the file. Who may read and
    write the file stays as it was.

    Args:
        path: the file; what stood there is replaced.
        text: its content.
        new: whether the file must not exist yet.
        was: what it held when it was read; None where that does not matter.

    Raises:
        FileExistsError: it exists, and must not.
        ValueError: it no longer holds what was read; what stands there stays.
        OSError: it cannot be written; what stood there stays.
    """
    # A name that nobody can know: neither do two programs meet in the half file, nor does a link lie in wait there.
    half = path.with_name(f".{path.stem[:40]}-{secrets.token_hex(8)}.new")
    try:
        _write(half, text, path)
        if new:
            _link(half, path)
            return
        if was is not None and path.read_bytes() != was:
            raise ValueError(f"{path}: somebody else has changed it meanwhile; nothing is written, look at it again")
        half.replace(path)
    finally:
        half.unlink(missing_ok=True)


def _write(half: Path, text: str | bytes, path: Path) -> None:
    """Write a new file that may be read and written by those who may do so with another, and see it onto the disk."""
    # O_EXCL: whatever has this name, a link above all, is no place to write into.
    made = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    with os.fdopen(made, "wb") as file:
        file.write(text.encode() if isinstance(text, str) else text)
        file.flush()
        os.fsync(file.fileno())
    try:
        before = path.lstat()
    except FileNotFoundError:
        return
    if stat.S_ISREG(before.st_mode):
        if hasattr(os, "chown"):
            with suppress(PermissionError):  # a group of which the writer is none: the file is of the writer's own
                os.chown(half, -1, before.st_gid)
        half.chmod(stat.S_IMODE(before.st_mode))


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
