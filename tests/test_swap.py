"""What readers have is whole at any moment: a build takes the old site's place in one move, or leaves it."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from alarmtrees.site import swap
from alarmtrees.site.swap import Beside, SwapError, recover
from small_library import contents
from small_library import swap as reword

Run = Callable[..., subprocess.CompletedProcess[str]]

MOMENTS = 50 if os.environ.get("EVERY") else 4
MKDOCS = [sys.executable, "-m", "mkdocs", "build", "--quiet"]


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A site that stands, with a hidden file of its server's beside the pages."""
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "index.html").write_text("old", encoding="utf-8")
    (folder / ".htaccess").write_text("of the server", encoding="utf-8")
    return folder


def ready(site: Path) -> Beside:
    """A new site beside it, whole."""
    beside = Beside(site)
    (beside.folder / "index.html").write_text("new", encoding="utf-8")
    return beside


# ---- whole builds


def test_site_is_whole_whenever_a_build_is_killed(small_library: Path) -> None:
    command = [sys.executable, str(Path(__file__).with_name("killed.py")), str(small_library), str(MOMENTS)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    tried = MOMENTS + 2
    assert told["killed"] == tried == told["old"] + told["new"]
    assert told["old"] >= MOMENTS - 1 and told["new"] >= 1, "both sides of the exchange were tried"
    assert told["left"] == 1, "each build removes what a killed one left"
    assert told["away"] and told["refused"] == 1 and told["back"]
    assert told["last"] == 0 and told["whole"] and told["cleared"]


@pytest.mark.parametrize("part", [0.1, 0.9])
def test_full_disk_is_told_in_one_line_and_leaves_the_old_site(small_library: Path, mkdocs: Run, part: float) -> None:
    """No file can be longer than a limit: some files, or the zip that comes last, cannot be written."""
    assert mkdocs(small_library, "build").returncode == 0
    before = contents(small_library / "site")
    reword(small_library / "kb" / "about.md", "# About", "# About it")
    room = int(max(map(len, before.values())) * part)
    done = subprocess.run(
        MKDOCS,
        cwd=small_library,
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=partial(resource.setrlimit, resource.RLIMIT_FSIZE, (room, room)),
    )
    assert done.returncode == 1 and "Traceback" not in done.stderr
    assert f"{small_library / 'site'}: File too large. The site stays as it was.\n" in done.stderr
    assert contents(small_library / "site") == before
    assert not list(small_library.glob(".site.*"))


def test_two_builds_at_once_into_one_folder_end_sound(small_library: Path, mkdocs: Run) -> None:
    assert mkdocs(small_library, "build").returncode == 0
    right = contents(small_library / "site")
    both = [subprocess.Popen(MKDOCS, cwd=small_library) for _ in range(2)]
    assert [one.wait(timeout=120) for one in both] == [0, 0]
    assert contents(small_library / "site") == right and not list(small_library.glob(".site.*"))


# ---- one move


@pytest.mark.parametrize("can", [True, False], ids=["exchange", "two renames"])
def test_new_site_takes_the_place_of_the_old_with_its_hidden_files(
    site: Path, monkeypatch: pytest.MonkeyPatch, can: bool
) -> None:
    exchange, used = swap._exchange, []

    def counted(one: Path, other: Path) -> bool:
        used.append(can and exchange(one, other))
        return used[-1]

    monkeypatch.setattr(swap, "_exchange", counted)
    beside = ready(site)
    (site / "gone.html").touch()
    beside.take_over()
    assert contents(site) == {"index.html": b"new", ".htaccess": b"of the server"}
    assert list(site.parent.iterdir()) == [site]
    assert used == [can], "on Linux folders can be exchanged"


def test_site_that_is_a_link_is_replaced_where_it_leads(site: Path) -> None:
    link = site.with_name("shown")
    link.symlink_to(site, target_is_directory=True)
    ready(link).take_over()
    assert link.is_symlink() and contents(site)["index.html"] == b"new"


def test_first_site_needs_no_folder(tmp_path: Path) -> None:
    ready(tmp_path / "a" / "site").take_over()
    assert contents(tmp_path / "a" / "site") == {"index.html": b"new"}
    assert (tmp_path / "a" / "site").stat().st_mode == (tmp_path / "a").stat().st_mode


def test_build_that_ends_badly_leaves_nothing(site: Path) -> None:
    ready(site).give_up()
    assert list(site.parent.iterdir()) == [site] and contents(site)["index.html"] == b"old"


def test_what_a_running_build_has_beside_is_left_alone(site: Path) -> None:
    running, dead = ready(site), ready(site)
    swap._let_go(dead._held)  # as the system does for a process that was killed
    recover(site)
    assert running.folder.is_dir() and not dead.folder.exists()
    running.take_over()
    assert contents(site)["index.html"] == b"new"


def test_what_no_build_has_made_is_left_alone(site: Path) -> None:
    for name in (".site.new", ".sites.1.new", "site.1.new", ".site.1.new.txt"):
        (site.parent / name).mkdir()
    before = sorted(site.parent.iterdir())
    recover(site)
    assert sorted(site.parent.iterdir()) == before


@pytest.mark.parametrize("what", ["file", "drive"])
def test_place_that_nothing_can_take_is_told_in_one_line(
    tmp_path: Path, site: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    if what == "file":
        site = site / "index.html"
    else:
        monkeypatch.setattr(os.path, "ismount", lambda path: Path(path) == site)
    with pytest.raises(SwapError, match="is a file; name a folder" if what == "file" else "build into .*/site/pages"):
        Beside(site)
    assert [path.name for path in tmp_path.iterdir()] == ["site"]
