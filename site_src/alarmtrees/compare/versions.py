"""Reads one version of a library: from a folder, or from git without touching the working tree.

A hospital's private settings are left out in either case: what is compared is what is shared, and a
comparison is made to be read by others.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath

from ..model import Library
from ..reading.load import MAX_BYTES, read_text
from ..reading.open import LOCAL_SETTINGS, open_library

_SUFFIXES = (".yml", ".yaml", ".md", ".svg")


@dataclass(frozen=True, slots=True)
class Version:
    """A library as it was or is.

    Attributes:
        name: what to call it by.
        library: what was read.
        pages: the text of each page of kb/ that is no article, by its file.
        commit: the commit it was read from, "" where it was read from a folder.
    """

    name: str
    library: Library
    pages: Mapping[str, str] = field(default_factory=dict)
    commit: str = ""


def read_version(name: str | None, root: Path) -> Version:
    """Read a version of the library at `root`.

    Args:
        name: a folder that holds a library, or a git revision; None for the library as it lies in `root`.
        root: the library, and where git is asked.

    Raises:
        FileNotFoundError: there is no library in the folder, or in that revision.
        ValueError: the name is neither a folder with a library nor a revision, or git cannot be run.
    """
    if name == "":
        raise ValueError("the name of a version is empty; name a git revision, or a folder that holds trees/")
    folder = root if name is None else Path(name)
    if name is None or (folder / "trees").is_dir():
        with _copied(folder) as copy:
            return _opened(copy, folder, name or "working tree")
    with _extracted(name, root) as copy:
        if not (copy / "trees").is_dir():
            raise FileNotFoundError(f"{name}: no folder trees/ in that revision")
        return _opened(copy, root, name, commit_of(name, root))


def commit_of(revision: str, root: Path) -> str:
    """The commit that a revision names.

    Raises:
        ValueError: there is no such revision, or git cannot be run.
    """
    named = f"{revision}^{{commit}}"
    return _git(root, "rev-parse", "--verify", "--quiet", "--end-of-options", named, name=revision).strip()


def is_within(commit: str, other: str, root: Path) -> bool:
    """Whether a commit is another one, or one that it was built upon."""
    try:
        _run(root, ["merge-base", "--is-ancestor", commit, other])
    except subprocess.CalledProcessError:
        return False
    return True


def where_parted(commit: str, other: str, root: Path) -> str:
    """The last commit that two have in common; "" where they have none."""
    try:
        return _run(root, ["merge-base", commit, other]).decode().strip()
    except subprocess.CalledProcessError:
        return ""


def last_touched(commit: str, file: str, root: Path) -> str:
    """The last commit on the line of first parents up to a commit that changed a file; "" where none did."""
    return _git(root, "log", "-1", "--first-parent", "--format=%H", commit, "--", f":(literal){file}").strip()


def blob(commit: str, file: str, root: Path) -> str | None:
    """The text of a file of the library as a commit has it; None where it has none."""
    prefix = _git(root, "rev-parse", "--show-prefix").strip()
    listed = _git(root, "ls-tree", "-z", "--full-tree", commit, "--", f":(literal){prefix}{file}")
    if not listed.startswith("100"):
        return None
    (content,) = _blobs(root, [listed.split()[2]])
    return content.decode("utf-8", "replace")


def _opened(copy: Path, origin: Path, name: str, commit: str = "") -> Version:
    library = open_library(copy)
    articles = {source.file for source in library.sources_read if source.kind == "article"}
    files = {f"kb/{stem}.md" for stem in library.written} - articles
    pages = {file: read_text(copy / file)[0] for file in sorted(files)}
    return Version(name, replace(library, root=str(origin)), pages, commit)


@contextmanager
def _copied(folder: Path) -> Iterator[Path]:
    """The readable part of a library in a folder of its own, without private settings."""
    if not (folder / "trees").is_dir():
        raise FileNotFoundError(f"{folder}: no folder trees/ here; name the library with --root")
    with tempfile.TemporaryDirectory() as made:
        copy = Path(made)
        for part in ("trees", "kb"):
            (copy / part).mkdir()
            for path in sorted((folder / part).rglob("*")):
                wanted = _is_read(PurePosixPath(path.relative_to(folder).as_posix()))
                if wanted and path.is_file() and not path.is_symlink():
                    _place(copy, path.relative_to(folder), path)
        yield copy


def _place(copy: Path, name: Path, path: Path) -> None:
    target = copy / name
    target.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(path, target)


def _is_read(name: PurePosixPath) -> bool:
    """Whether a file is one that a library reads."""
    if name.suffix.lower() not in _SUFFIXES or ".." in name.parts or name.name == LOCAL_SETTINGS:
        return False
    return name.parts[0] in ("trees", "kb")


@contextmanager
def _extracted(revision: str, root: Path) -> Iterator[Path]:
    """The readable part of a library as a revision has it, in a folder of its own."""
    commit = commit_of(revision, root)
    prefix = _git(root, "rev-parse", "--show-prefix").strip()
    listing = _git(root, "ls-tree", "-r", "-z", "--full-tree", commit)
    entries = [entry.split("\t", 1) for entry in listing.split("\0") if "\t" in entry]
    wanted = [
        (about.split()[2], name.removeprefix(prefix))
        for about, name in entries
        if about.startswith("100") and name.startswith(prefix) and _is_read(PurePosixPath(name.removeprefix(prefix)))
    ]
    with tempfile.TemporaryDirectory() as made:
        copy = Path(made)
        for (_, name), content in zip(wanted, _blobs(root, [blob for blob, _ in wanted]), strict=True):
            target = copy / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
        yield copy


def _blobs(root: Path, names: list[str]) -> Iterator[bytes]:
    """The contents of git objects, as they are stored."""
    if not names:
        return
    out = _run(root, ["cat-file", "--batch"], "".join(f"{name}\n" for name in names).encode())
    at = 0
    for _ in names:
        line_end = out.index(b"\n", at)
        size = int(out[at:line_end].split()[2])
        # One character more than a file may have shows as too large, without holding all of it.
        yield out[line_end + 1 : line_end + 1 + min(size, MAX_BYTES + 1)]
        at = line_end + 1 + size + 1


def _git(root: Path, *arguments: str, name: str = "") -> str:
    try:
        return _run(root, list(arguments)).decode("utf-8", "surrogateescape")
    except subprocess.CalledProcessError as fault:
        said = fault.stderr.decode("utf-8", "replace").strip().splitlines()
        reason = said[0] if said else "no such folder or revision"
        raise ValueError(f"{name or root}: {reason}; name a git revision, or a folder that holds trees/") from None


def _run(root: Path, arguments: list[str], given: bytes = b"") -> bytes:
    environment = {key: value for key, value in os.environ.items() if key not in ("GIT_DIR", "GIT_WORK_TREE")}
    try:
        done = subprocess.run(
            ["git", "-C", str(root), *arguments], input=given, capture_output=True, check=True, env=environment
        )
    except FileNotFoundError:
        raise ValueError("git is not installed; compare two folders instead") from None
    return done.stdout
