"""Sealing a built site: its build id, the worker's list of files, and the zip, each made from the content alone."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from alarmtrees.reading.open import open_library
from alarmtrees.site.offline import ARCHIVE, BUILD, UNSEALED, SealError, build_id, content_date, seal, web_manifest
from small_library import REPOSITORY

WORKER = REPOSITORY / "site_src" / "theme" / UNSEALED
ASSETS = REPOSITORY / "site_src" / "theme" / "assets"


@pytest.fixture
def built(tmp_path: Path) -> Path:
    """A site as the generator leaves it."""
    folder = tmp_path / "site"
    (folder / "alarms" / "a").mkdir(parents=True)
    (folder / "index.html").write_text(f"<p>Build {BUILD}</p>", encoding="utf-8")
    (folder / "alarms" / "a" / "index.html").write_text(f"<p>Größe {BUILD} {BUILD}</p>", encoding="utf-8")
    (folder / "mark.png").write_bytes(bytes(range(256)))
    shutil.copy(WORKER, folder / UNSEALED)
    return folder


def files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def listed(folder: Path) -> dict[str, str]:
    """The worker's list of files."""
    found = re.search(r"const FILES = (\{.*?\});", (folder / "worker.js").read_text("utf-8"), re.DOTALL)
    assert found
    return json.loads(found[1])


def test_every_file_bears_the_build_and_none_its_place_holder(built: Path) -> None:
    build = seal(built, "2026-09-14")
    assert re.fullmatch(r"[0-9a-f]{12}", build)
    assert (built / "index.html").read_text("utf-8") == f"<p>Build {build}</p>"
    assert (built / "alarms" / "a" / "index.html").read_text("utf-8") == f"<p>Größe {build} {build}</p>"
    worker = (built / "worker.js").read_text("utf-8")
    assert f'const BUILD = "{build}";' in worker and 'const DATED = "2026-09-14";' in worker
    assert not [name for name, content in files(built).items() if b"@@" in content and name != ARCHIVE]


def test_worker_lists_all_files_as_they_lie_there_but_itself_and_the_zip(built: Path) -> None:
    seal(built, "")
    lying = {name: hashlib.sha256(content).hexdigest() for name, content in files(built).items()}
    del lying["worker.js"], lying[ARCHIVE]
    assert listed(built) == lying and list(listed(built)) == sorted(lying)


def test_equal_content_gives_equal_files_whenever_it_is_built(built: Path, tmp_path: Path) -> None:
    again = tmp_path / "again"
    for name in sorted(files(built), reverse=True):  # written in another order, at another time, with other rights
        (again / name).parent.mkdir(parents=True, exist_ok=True)
        (again / name).write_bytes((built / name).read_bytes())
        os.utime(again / name, (1, 1))
        (again / name).chmod(0o600)
    assert seal(built, "2026-09-14") == seal(again, "2026-09-14")
    assert files(built) == files(again)


@pytest.mark.parametrize("name", ["index.html", "mark.png", UNSEALED])
def test_any_changed_byte_gives_another_build(built: Path, name: str) -> None:
    before = build_id(built)
    with (built / name).open("ab") as file:
        file.write(b" ")
    assert build_id(built) != before


def test_a_renamed_file_gives_another_build(built: Path) -> None:
    before = build_id(built)
    (built / "mark.png").rename(built / "sign.png")
    assert build_id(built) != before


def test_zip_holds_the_whole_sealed_site_but_itself_and_no_time(built: Path) -> None:
    (built / ARCHIVE).write_bytes(b"an older one")
    seal(built, "")
    with zipfile.ZipFile(built / ARCHIVE) as archive:
        held = {entry.filename: archive.read(entry) for entry in archive.infolist()}
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert held == {f"balloon-pump-alarms/{name}": data for name, data in files(built).items() if name != ARCHIVE}


@pytest.mark.parametrize("name", ["settings.local.yml", "settings.local.json"])
def test_private_file_stops_it_before_anything_is_changed(built: Path, name: str) -> None:
    (built / "alarms" / name).write_text("secret", encoding="utf-8")
    before = files(built)
    with pytest.raises(SealError, match=r"settings\.local.* private values must not lie in the site"):
        seal(built, "")
    assert files(built) == before


def test_private_file_stops_it_under_any_name(built: Path, tmp_path: Path) -> None:
    private = tmp_path / "settings.local.yml"
    private.write_text("hospital: secret\n", encoding="utf-8")
    (built / "alarms" / "notes.txt").write_bytes(private.read_bytes())
    before = files(built)
    with pytest.raises(SealError, match=r"notes\.txt: a hospital's private values must not lie in the site"):
        seal(built, "", private=private)
    assert files(built) == before
    (built / "alarms" / "notes.txt").unlink()
    private.write_text("", encoding="utf-8")  # says nothing that could be given away
    (built / "empty.txt").touch()
    assert seal(built, "", private=private)


def test_until_it_is_sealed_a_site_has_no_worker(built: Path) -> None:
    assert "worker.js" not in files(built)
    seal(built, "")
    assert "worker.js" in files(built) and UNSEALED not in files(built)


def test_sealed_site_is_not_sealed_again(built: Path) -> None:
    seal(built, "")
    with pytest.raises(SealError, match="sealed already"):
        seal(built, "")


def test_site_without_a_worker_is_refused(built: Path) -> None:
    (built / UNSEALED).unlink()
    with pytest.raises(SealError, match="not there"):
        seal(built, "")


def test_site_that_is_being_edited_is_not_kept(built: Path) -> None:
    seal(built, "", kept=False)
    worker = (built / "worker.js").read_text("utf-8")
    assert "unregister" in worker and "FILES" not in worker and "fetch" not in worker
    assert zipfile.is_zipfile(built / ARCHIVE)


def test_content_is_dated_by_the_newest_review_or_value(small_library: Path) -> None:
    library = open_library(small_library)
    days = [tree.review.on for tree in library.trees.values() if tree.review]
    days += [article.review.on for article in library.articles.values() if article.review]
    days += [setting.on for setting in library.settings.values() if setting.on]
    assert content_date(library) == max(days)
    settings = dict(library.settings)
    name, setting = next(iter(settings.items()))
    settings[name] = replace(setting, on="2999-01-31")
    assert content_date(replace(library, settings=settings)) == "2999-01-31"
    assert content_date(replace(library, trees={}, articles={}, settings={})) == ""


def test_web_manifest_names_only_icons_that_are_there_in_the_size_it_says() -> None:
    manifest = json.loads(web_manifest("A “name”", "About\n"))
    assert manifest["name"] == "A “name”" and manifest["description"] == "About\n"
    assert {"192x192", "512x512", "any"} == {icon["sizes"] for icon in manifest["icons"]}
    assert [icon for icon in manifest["icons"] if icon.get("purpose") == "maskable"]
    for icon in manifest["icons"]:
        path = ASSETS.parent / icon["src"]
        if path.suffix == ".png":
            head = path.read_bytes()[:24]
            width, height = int.from_bytes(head[16:20]), int.from_bytes(head[20:24])
            assert f"{width}x{height}" == icon["sizes"], path
        else:
            assert path.is_file()
    assert not [value for value in (manifest["start_url"], manifest["scope"]) if ":" in value or value[0] == "/"]
