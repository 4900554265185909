"""Seals a built site: one build id for all of it, a worker that keeps it whole without a network, a copy as a zip.

A sealed site depends on its content alone: equal content gives equal files, whenever and wherever it is built.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Mapping
from fnmatch import fnmatch
from pathlib import Path

from ..model import Article, Calculator, Library, Tree
from ..model.stamp import is_stale

BUILD = "@@build@@"
"""Stands for the build id in any file of the site until the site is sealed."""

DATED = "@@content-date@@"
"""Stands for the date of the content in the worker until the site is sealed."""

WORKER = "worker.js"
UNSEALED = "worker-unsealed.js"
"""The worker without its list. No browser asks for this name, so a site that is not sealed has no worker."""

WEB_MANIFEST = "app.webmanifest"
ARCHIVE = "balloon-pump-alarms.zip"
PRIVATE = "*settings.local*"
"""A hospital's own values: no file of such a name may be published."""

_NO_FILES = "const FILES = {};"
_NO_DAY = (1980, 1, 1, 0, 0, 0)
_READABLE = 0o100644 << 16

# Forgets what an earlier worker kept: who edits the trees must see every change at once.
_NO_WORKER = """self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.registration.unregister()));
"""


class SealError(Exception):
    """The site cannot be published as it lies there; the text says why."""


def content_date(library: Library) -> str:
    """The newest day of a review, of a value that was set, or of a change that readers are told of, as `2026-09-14`.

    Empty where none is known. Where `is_changed` says so, something is newer than that.
    """
    pages: list[Tree | Article | Calculator] = [*library.trees.values(), *library.articles.values()]
    pages += library.calculators.values()
    reviewed = [page.review.on for page in pages if page.review]
    told = [change.on for key, changes in library.changes.items() if key in library.trees for change in changes]
    return max([*reviewed, *told, *(setting.on for setting in library.settings.values() if setting.on)], default="")


def is_changed(library: Library) -> bool:
    """Whether a page says something else than what was signed, so that nobody can say of which day the content is."""
    if library.changed is not None:
        return library.changed
    pages: list[Tree | Article | Calculator] = [*library.trees.values(), *library.articles.values()]
    return any(is_stale(page) for page in [*pages, *library.calculators.values()])


def web_manifest(name: str, description: str) -> str:
    """What a browser needs to know to keep the site like a program: all addresses are relative to this file.

    Without an `id`, the address tells two such sites on one server apart.
    """
    icons = [
        {"src": "assets/mark.svg", "sizes": "any", "type": "image/svg+xml"},
        *({"src": f"assets/icons/mark-{n}.png", "sizes": f"{n}x{n}", "type": "image/png"} for n in (192, 512)),
        {"src": "assets/icons/maskable-512.png", "sizes": "512x512", "type": "image/png", "purpose": "maskable"},
    ]
    manifest = {
        "name": name,
        "short_name": "Pump alarms",
        "description": description,
        "lang": "en",
        "start_url": "index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#fbfaf7",
        "theme_color": "#fbfaf7",
        "icons": icons,
    }
    return json.dumps(manifest, indent=2) + "\n"


def seal(folder: Path, dated: str, kept: bool = True, private: Path | None = None) -> str:
    """Finish a built site: stamp its files, and write the worker's list of files and the zip.

    Args:
        folder: the site, all its files written. It is changed in place.
        dated: the date of the content, as `content_date` gives it.
        kept: whether the site may be kept. If not, the worker forgets what an earlier one kept.
        private: a file that may not lie in the site under any name; it need not be there.

    Returns:
        The build id: 12 hexadecimal digits, made from every file's path and content.

    Raises:
        SealError: a private file lies in the site, the site is sealed already, or its worker has no place for
            the list of files.
    """
    (folder / ARCHIVE).unlink(missing_ok=True)
    site = _read(folder)
    _refuse(folder, site, private.read_bytes() if private and private.is_file() else b"")
    build = _build_id(site)
    for name, content in site.items():
        if BUILD.encode() in content:
            site[name] = content.replace(BUILD.encode(), build.encode())
            (folder / name).write_bytes(site[name])
    template = site.pop(UNSEALED)
    (folder / UNSEALED).unlink()
    site[WORKER] = _worker(template, site, dated, kept)
    (folder / WORKER).write_bytes(site[WORKER])
    # A higher level makes the zip a little smaller and takes twice as long; who waits for an edited page needs none.
    _write_archive(folder / ARCHIVE, site, 5 if kept else 1)
    return build


def build_id(folder: Path) -> str:
    """The SHA-256 of all paths and contents, cut to 12 hexadecimal digits."""
    return _build_id(_read(folder))


def _build_id(site: Mapping[str, bytes]) -> str:
    return hashlib.sha256(json.dumps(_hashes(site)).encode()).hexdigest()[:12]


def _hashes(site: Mapping[str, bytes]) -> dict[str, str]:
    """The SHA-256 of each file by its path below the folder, in the order of the paths."""
    return {name: hashlib.sha256(site[name]).hexdigest() for name in sorted(site)}


def _read(folder: Path) -> dict[str, bytes]:
    """All files of the site by their paths, in an order that no file system can change."""
    files = sorted((path for path in folder.rglob("*") if path.is_file()), key=lambda path: path.as_posix())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def _refuse(folder: Path, site: Mapping[str, bytes], private: bytes) -> None:
    """Stop before anything is changed that could not be published."""
    for name, content in site.items():
        if fnmatch(name.rpartition("/")[2], PRIVATE) or (private and content == private):
            raise SealError(f"{folder / name}: a hospital's private values must not lie in the site as a file")
    text = site.get(UNSEALED, b"")
    if BUILD.encode() not in text or _NO_FILES.encode() not in text:
        raise SealError(f"{folder / UNSEALED}: not there, sealed already, or without the line “{_NO_FILES}”")


def _worker(template: bytes, site: Mapping[str, bytes], dated: str, kept: bool) -> bytes:
    if not kept:
        return _NO_WORKER.encode()
    listed = _NO_FILES.replace("{}", json.dumps(_hashes(site), indent=0))
    return template.decode().replace(_NO_FILES, listed).replace(DATED, dated).encode()


def _write_archive(path: Path, site: Mapping[str, bytes], level: int) -> None:
    """The whole site as one zip. Its entries bear no time, and the same rights wherever it is made."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in site.items():
            entry = zipfile.ZipInfo(f"{path.stem}/{name}", _NO_DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = _READABLE
            entry.create_system = 3
            archive.writestr(entry, content, compresslevel=level)
