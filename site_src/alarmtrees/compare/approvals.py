"""Approvals: somebody of the department takes on a change by name. Each is for one version, and ends with it.

An approval names a change by its fingerprint and the version in which it was read: what the file said before, as a
point in the history of the base, and what it says now. Once the change is merged, the file stands at another point of
that history, and no later proposal comes to that version again, not even one that repeats an undone change.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from ..model import Source
from ..model.finding import Place
from ..reading import schema
from ..reading.load import parse, read_text
from .change import Approval, Change
from .versions import Version, blob, commit_of, is_within, last_touched, where_parted

FILE = "approved.yml"
"""Where approvals stand, beside trees/ and kb/."""


def read_approvals(path: Path) -> tuple[Approval, ...]:
    """The approvals in a file.

    Raises:
        FileNotFoundError: there is no such file.
        ValueError: it cannot be read, or is no file of approvals.
    """
    if not path.is_file():
        raise FileNotFoundError(f"{path}: no such file; approvals stand in {FILE} beside trees/")
    text, problem = read_text(path)
    if problem:
        raise ValueError(f"{path}:{problem.spot[0]}:{problem.spot[1]}: {problem.message}")
    return _read(text, str(path))


def approvals_from(revision: str, base: Version, head: Version, root: Path) -> tuple[Approval, ...]:
    """The approvals that a revision holds, read by git and never from the working tree.

    A revision that the proposal brings along is refused: nobody approves what they themselves propose.

    Args:
        revision: the base, or a branch that only reviewers write to.
        base: the version before; has to be a revision.
        head: the version now.
        root: the library, and where git is asked.

    Raises:
        ValueError: there is no such revision, it is part of the proposal, or its file cannot be read.
    """
    if not base.commit:
        raise ValueError(f"--approved-from {revision}: {base.name} is a folder; approvals are read beside a revision")
    commit = commit_of(revision, root)
    ahead = head.commit or commit_of("HEAD", root)
    if not is_within(commit, base.commit, root):
        merged = not is_within(ahead, base.commit, root) and is_within(ahead, commit, root)
        if merged or is_within(commit, ahead, root):
            raise ValueError(
                f"--approved-from {revision}: this revision is part of the proposal, and nobody approves their own; "
                f"name the branch that it is for"
            )
    text = blob(commit, FILE, root)
    return _read(text, f"{revision}:{FILE}") if text is not None else ()


def approvals_changed(base: Version, head: Version, root: Path) -> Iterator[Change]:
    """What a proposal does to the file of approvals itself; what came into the base meanwhile is none of that."""
    if not base.commit:
        return
    path = root / FILE
    parted = where_parted(base.commit, head.commit or commit_of("HEAD", root), root)
    before = blob(parted, FILE, root) if parted else None
    now = blob(head.commit, FILE, root) if head.commit else read_text(path)[0] if path.is_file() else None
    if before != now:
        message = f"{FILE} changed: what it adds counts once it is merged, and never for the proposal that brings it"
        yield Change(
            "approvals-changed",
            None,
            message,
            Place(FILE, 1, 1),
            gone=now is None,
            before=before,
            after=now,
            entry=FILE,
        )


def _read(text: str, name: str) -> tuple[Approval, ...]:
    if not any(line.strip() and not line.lstrip().startswith("#") for line in text.splitlines()):
        return ()
    source = parse(text, name, "approved", "approved")
    problems = source.problems or tuple(schema.problems(source))
    if problems or source.data is None:
        spot, message = (problems[0].spot, problems[0].message) if problems else ((1, 1), "the file cannot be read")
        raise ValueError(f"{name}:{spot[0]}:{spot[1]}: {message}")
    return tuple(Approval(**entry) for entry in source.data["approved"])


def versions_of(files: Iterable[str], base: Version, head: Version, root: Path) -> dict[str, str]:
    """For each file what names its version in an approval: 16 hexadecimal digits.

    Args:
        files: paths relative to the library.
        base: the version before: of a revision counts when the file last changed on its line, of a folder its content.
        head: the version now, of which the content counts, apart from who reviewed it.
        root: where git is asked.
    """
    now, then = _contents(head), {} if base.commit else _contents(base)
    found = {}
    for file in sorted(set(files)):
        before = last_touched(base.commit, file, root) if base.commit else then.get(file, "")
        text = json.dumps([file, before, now.get(file, "")], ensure_ascii=False)
        found[file] = hashlib.sha256(text.encode()).hexdigest()[:16]
    return found


def _contents(version: Version) -> Mapping[str, str]:
    return {**version.pages, **{source.file: _content(source) for source in version.library.sources_read}}


def _content(source: Source) -> str:
    """What a file says, whatever its layout, without its review: a signature comes after the approval."""
    if source.data is None:
        return source.text
    said = json.dumps({key: value for key, value in source.data.items() if key != "review"}, sort_keys=True)
    if source.kind != "article":
        return said
    _, _, body = source.text.removeprefix("---").partition("\n---")
    return f"{said}\n{body}"
