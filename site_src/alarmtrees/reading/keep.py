"""What a build has worked out, kept in a folder for the next one under a name that stands for all it was made from.

Only what follows from its inputs alone is kept: the name is a hash of the code and of the inputs, and each file
carries a sum of itself, which only this user can make on this machine. So a file that is old, damaged or somebody
else's, such as one that came with a proposal, is never taken: it is made anew.
"""

from __future__ import annotations

import hmac
import json
import os
import re
import secrets
import tempfile
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, TypeVar

from .save import save

Value = TypeVar("Value")

_OURS = re.compile(r"\w+-[0-9a-f]{32}\.json|\.\w+-[0-9a-f]{32}\.json\..+")
"""The names of what a store writes, whole and half; all else in its folder is somebody's."""

_KEY_BYTES = 32
_LEFT_BEHIND = 3600
"""Seconds after which a half-written file belongs to no build that still runs."""


def digest(*inputs: Any) -> str:
    """What stands for some inputs: texts, numbers, lists, mappings and dataclasses of them; sets in their items' order.

    >>> digest("a", {"b": 1}) == digest("a", {"b": 1}), digest("a") == digest(["a"])
    (True, False)
    """
    return sha256(json.dumps(inputs, sort_keys=True, default=_plain).encode()).hexdigest()


def _plain(value: Any) -> list[Any]:
    if is_dataclass(value):
        return [type(value).__name__, *(getattr(value, name) for name in _names(value.__class__))]
    return sorted(value)


@cache
def _names(kind: Any) -> list[str]:
    return [field.name for field in fields(kind)]


def digest_of_files(folders: Iterable[Path]) -> str:
    """What stands for all files below some folders, by their paths there and their bytes."""
    total = sha256()
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.is_file() and path.suffix != ".pyc":
                content = path.read_bytes()
                total.update(f"{path.relative_to(folder).as_posix()}\0{len(content)}\0".encode() + content)
    return total.hexdigest()


def versions(*packages: str) -> list[str]:
    """The versions of installed packages, "" for one that is missing."""
    found = []
    for package in packages:
        try:
            found.append(version(package))
        except PackageNotFoundError:
            found.append("")
    return found


class Store:
    """Values by what they were made from, in a folder.

    A folder that cannot be written is no fault: values are then made each time.
    """

    def __init__(self, folder: Path | None, code: str = "") -> None:
        """Keep values in a folder; None keeps nothing.

        Args:
            folder: of this store alone; what is not asked for may be cleared from it. Where it, or the folder that it
                lies in, is a link, nothing is kept: it could lead anywhere.
            code: stands for the code that makes the values.
        """
        linked = folder is not None and (folder.is_symlink() or folder.parent.is_symlink())
        self._folder = None if linked else folder
        self._code = code
        self._used: set[Path] = set()

    def get(self, name: str, inputs: Any, make: Callable[[], Value]) -> Value:
        """A value: the kept one, else it is made and kept.

        Args:
            name: of what is made; a part of the file's name.
            inputs: all that the value depends on beside the code, as `digest` takes it.
            make: makes the value, which JSON can hold. It comes back as JSON gives it, whether kept or made.
        """
        found = self.find(name, inputs)
        return self.put(name, inputs, make()) if found is None else found[0]

    def find(self, name: str, inputs: Any) -> tuple[Any] | None:
        """The kept value alone in a tuple; None where there is none that can be trusted."""
        if self._folder is None:
            return None
        key = digest(self._code, name, inputs)
        path = self._path(name, key)
        self._used.add(path)
        try:
            total, _, content = path.read_text(encoding="utf-8").partition("\n")
            return (json.loads(content),) if total == _sum(key, content) else None
        except (OSError, ValueError):
            return None

    def put(self, name: str, inputs: Any, value: Value) -> Value:
        """Keep a value."""
        content = json.dumps(value, separators=(",", ":"))
        if self._folder is not None:
            key = digest(self._code, name, inputs)
            path = self._path(name, key)
            self._used.add(path)
            with suppress(OSError):
                path.parent.mkdir(parents=True, exist_ok=True)
                save(path, f"{_sum(key, content)}\n{content}")
        kept: Value = json.loads(content)
        return kept

    def clear(self) -> None:
        """Remove what nobody has asked for since this store was opened: it is of an older code or content."""
        if self._folder is None or not self._folder.is_dir():
            return
        for path in self._folder.iterdir():
            with suppress(OSError):
                half = path.suffix != ".json" and time.time() - path.stat().st_mtime < _LEFT_BEHIND
                if path not in self._used and not half and path.is_file() and _OURS.fullmatch(path.name):
                    path.unlink()

    def _path(self, name: str, key: str) -> Path:
        assert self._folder is not None
        return self._folder / f"{name}-{key[:32]}.json"


def _sum(key: str, content: str) -> str:
    return hmac.digest(_secret(), f"{key}\n{content}".encode(), "sha256").hex()


@cache
def _secret() -> bytes:
    """A key that lies outside of all libraries; of this process alone where none can be kept."""
    path = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "alarmtrees" / "key"
    with suppress(OSError):
        if len(key := path.read_bytes()) == _KEY_BYTES:
            return key
    new = secrets.token_bytes(_KEY_BYTES)
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        number, half = tempfile.mkstemp(dir=path.parent)  # nobody else may read it
        with os.fdopen(number, "wb") as file:
            file.write(new)
        Path(half).replace(path)
    return new
