"""Builds a site beside the one that readers have, and puts it in its place in one move when it is whole.

A build that is killed, or whose disk is full, leaves the old site as it was; what it left beside is removed by the next
one. Two builds at once do not meet: each has a folder of its own, and the last one to end has the last word.
"""

from __future__ import annotations

import ctypes
import errno
import os
import re
import secrets
import shutil
import time
from contextlib import suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # not on every system
    fcntl = None  # type: ignore[assignment]

_NEW, _OLD = ".new", ".old"
_LEFT_BEHIND = 86400
"""Seconds after which a folder belongs to no build that still runs, on systems where a build cannot say so itself."""

_TRIES = 9
_HERE = -100
_EXCHANGE = 2


class SwapError(Exception):
    """No site can be built there; the text says why."""


class Beside:
    """A new folder beside the one of a site, on the same file system, held as long as the build runs."""

    def __init__(self, site: Path) -> None:
        """Clear what killed builds have left, and make the folder.

        Args:
            site: where the site is to stand; a link is followed. It need not be there.

        Raises:
            SwapError: the site's place is no folder, or nothing can be put into its place.
            OSError: the folder cannot be made.
        """
        self.site = site.resolve()
        if os.path.ismount(self.site):
            inside = self.site / "pages"
            raise SwapError(f"{site} is a drive of its own, which nothing can take the place of; build into {inside}")
        if self.site.exists() and not self.site.is_dir():
            raise SwapError(f"{site} is a file; name a folder to build into")
        self.site.parent.mkdir(parents=True, exist_ok=True)
        recover(self.site)
        self.folder, self._held = self._begun()

    def _begun(self) -> tuple[Path, int | None]:
        while True:
            folder = self.site.parent / f".{self.site.name}.{secrets.token_hex(6)}{_NEW}"
            folder.mkdir()
            held = _hold(folder)
            if folder.is_dir():  # else another build took it for left behind, before it was held
                if self.site.is_dir():
                    shutil.copymode(self.site, folder)
                return folder, held
            _let_go(held)

    def take_over(self) -> None:
        """Put the folder in the place of the site, with the hidden files that lay there, and remove the old one.

        Raises:
            SwapError: something holds the old site, which stays.
            OSError: it cannot be done; the old site stays.
        """
        if self.site.is_dir():
            _carry_hidden(self.site, self.folder)
        old = _put(self.folder, self.site)
        _let_go(self._held)
        shutil.rmtree(old, ignore_errors=True)

    def give_up(self) -> None:
        """Remove the folder; the old site stays."""
        shutil.rmtree(self.folder, ignore_errors=True)
        _let_go(self._held)


def recover(site: Path) -> None:
    """Put back a site that was taken away and not replaced, and remove what killed builds have left beside it.

    Args:
        site: where the site is to stand, without links on the way.
    """
    for old in sorted(_beside(site, _OLD)):
        if not site.exists():
            with suppress(OSError):
                old.rename(site)
    for left in [*_beside(site, _NEW), *_beside(site, _OLD)]:
        if not left.is_symlink() and left.is_dir() and not _is_held(left):
            shutil.rmtree(left, ignore_errors=True)


def _beside(site: Path, ending: str) -> list[Path]:
    if not site.parent.is_dir():
        return []
    ours = re.compile(rf"\.{re.escape(site.name)}\.[0-9a-f]{{12}}{re.escape(ending)}")
    return [path for path in site.parent.iterdir() if ours.fullmatch(path.name)]


def _hold(folder: Path) -> int | None:
    """Say for as long as this process lives that the folder is in use."""
    try:
        held = os.open(folder, os.O_RDONLY)
    except OSError:
        return None
    with suppress(OSError):
        if fcntl:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return held


def _let_go(held: int | None) -> None:
    if held is not None:
        os.close(held)


def _is_held(folder: Path) -> bool:
    """Whether a build that still runs works in a folder."""
    try:
        tried = os.open(folder, os.O_RDONLY)
    except OSError:
        return _is_young(folder)
    try:
        if fcntl is None:
            return _is_young(folder)
        fcntl.flock(tried, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except OSError:  # a file system without locks
        return _is_young(folder)
    finally:
        os.close(tried)
    return False


def _is_young(folder: Path) -> bool:
    try:
        return time.time() - folder.stat().st_mtime < _LEFT_BEHIND
    except OSError:
        return False


def _carry_hidden(old: Path, new: Path) -> None:
    """Hidden files are not the build's: a server's own settings, or a version control's, stay with the site."""
    for entry in old.iterdir():
        if entry.name.startswith(".") and not (new / entry.name).exists():
            if entry.is_dir() and not entry.is_symlink():
                shutil.copytree(entry, new / entry.name, symlinks=True)
            else:
                shutil.copy2(entry, new / entry.name, follow_symlinks=False)


def _put(new: Path, site: Path) -> Path:
    """Put a folder in a site's place; gives the place where the old one lies now, if there was one."""
    old = new.with_name(new.name.removesuffix(_NEW) + _OLD)
    for _ in range(_TRIES):
        if not site.exists():
            with suppress(OSError):  # another build was quicker
                new.rename(site)
                return old
        elif _exchange(new, site):
            return new
        else:
            # The site is away for a moment; `recover` puts it back if that moment is the last.
            with suppress(FileNotFoundError):
                site.rename(old)
    recover(site)
    raise SwapError(f"{site} could not be replaced; another program holds it")


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one move; False where the system cannot."""
    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    if call(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0:
        return True
    fault = ctypes.get_errno()
    if fault in (errno.EINVAL, errno.ENOSYS, errno.ENOENT, errno.EOPNOTSUPP, errno.EPERM):
        return False
    raise OSError(fault, os.strerror(fault), str(other))
