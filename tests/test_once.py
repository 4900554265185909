"""What is shared between tests is made once, and a failure is told to all who wait for it."""

from __future__ import annotations

from pathlib import Path
from threading import Thread

import pytest

from once import once


class Factory:
    """Knows one folder, as pytest's own does."""

    def __init__(self, base: Path) -> None:
        self.base = base

    def getbasetemp(self) -> Path:
        return self.base


@pytest.fixture
def factory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Factory:
    monkeypatch.delenv("PYTEST_XDIST_WORKER", raising=False)
    return Factory(tmp_path)


def test_only_the_first_who_asks_makes_it_and_all_get_the_whole(factory) -> None:
    made: list[Path] = []
    found: list[bool] = []

    def make(folder: Path) -> None:
        made.append(folder)
        for number in range(200):
            (folder / f"{number}").write_text("whole", encoding="utf-8")

    def ask() -> None:
        found.append((once(factory, "thing", make) / "199").is_file())

    asking = [Thread(target=ask) for _ in range(8)]
    for one in asking:
        one.start()
    for one in asking:
        one.join()
    assert len(made) == 1 and found == [True] * 8


def test_processes_of_one_run_share_it(factory, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PYTEST_XDIST_WORKER", "gw0")
    folders = [once(Factory(tmp_path / worker), "thing", lambda _: None) for worker in ("gw0", "gw1")]
    assert folders == [tmp_path / "shared-thing"] * 2


def test_who_waits_is_told_why_it_could_not_be_made(factory) -> None:
    def fail(_: Path) -> None:
        raise ValueError("no room")

    with pytest.raises(ValueError, match="no room"):
        once(factory, "thing", fail)
    with pytest.raises(pytest.fail.Exception, match="ValueError: no room"):
        once(factory, "thing", fail)
