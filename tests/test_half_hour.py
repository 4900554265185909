"""A new author's half hour, played through with the real programs: from `new` to the merged tree.

The steps are those of “A new tree” in DEVELOPERS.md; the preview comes before the signature.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from played.pull_request import Stage
from small_library import REPOSITORY, make

ID, TREE = "console-hot", "trees/console-hot.yml"
BY = "lead specialist"

FILLED = {
    "aliases: []": "aliases: [hot to touch, warm case, warm smell, loud fan, hot air, burns the hand, hot box, heat]",
    "(fill in) One sentence that says what the alarm means.": "The console is hotter than it may be.",
    "(fill in) The cause that is found most often": "Cloth covers the openings for air",
    "(fill in) Another cause that only a specialist removes": "The fan stands still",
    "(fill in) A question that is answered by looking": "What covers the openings for air?",
    "(fill in) Why this is looked at.": "A console that gets no air grows hot.",
    "(fill in) What is seen under the first cause": "Cloth or a bag",
    "(fill in) What is seen under the second": "Nothing",
    "(fill in) One action that removes the first cause.": "Take away what covers the openings.",
    "(fill in) Why this helps.": "Air takes the heat away.",
    "(fill in) A question that tells whether it helped": "How does the case feel after 2 minutes of free air?",
    "(fill in) What right looks like": "Cooler",
    "(fill in) What is seen if it did not help": "As hot as before",
    "(fill in) What has come out, and that it is finished here.": "The console has air again, and cools down.",
    "(fill in) What to watch from now on.": "Keep cloth and bags away from the console.",
    "(fill in) What has come out, for whoever is called.": "The console is hot, and nothing covers it.",
    "(fill in) What to watch until help is there.": "Watch pulse and pressure, and whether the balloon moves.",
}
SHARED = {
    "learning.yml": "stages:\n  - id: first\n    title: First\n    when: First day\n    why: So it is.\n    pages:\n"
    "      - {page: line-open, why: It hisses.}\n      - {page: supply-low, why: Gas runs out.}\n"
    "      - {page: plugging-in, why: The plug.}\n",
    "practice.yml": 'patients:\n  - {say: "A woman has had the pump since yesterday."}\n'
    'places:\n  - {say: "in the unit"}\nscenes:\n  line-open: {say: The pump hisses and alarms.}\n',
    "changes.yml": 'line-open:\n  - {on: 2026-01-02, say: "Asks first how the patient is."}\n',
}


def test_from_new_to_the_merged_tree(tmp_path: Path) -> None:
    stage = Stage(tmp_path)
    make(stage.root)
    for name, text in SHARED.items():
        (stage.root / "kb" / name).write_text(text, "utf-8")
    stage.git("init", "-q", "-b", "main")
    stage.git("add", "-A")
    stage.git("commit", "-q", "-m", "As it was")
    stage.alarmtrees("check", "--strict")

    stage.git("switch", "-q", "-c", ID)
    told = stage.alarmtrees("new", ID, "--title", "Console is hot")
    assert "missing-review" not in told and "alarmtrees order" in told
    _edit(stage, FILLED)
    assert "(fill in)" not in re.sub("#.*", "", (stage.root / TREE).read_text("utf-8"))
    assert stage.alarmtrees("check", "--strict").endswith("3 trees, 0 errors, 0 warnings\n")
    way = ["As before the alarm", "Whole line seen, no blood, no brown spots", "Nothing"]
    walked = stage.alarmtrees("walk", ID, *(word for answer in way for word in ("--answer", answer)))
    assert "End (call): The console is hot, and nothing covers it." in walked
    assert "to the remedy, on the mean over the causes" in stage.alarmtrees("order", ID)
    stage.git("add", "-A")
    stage.git("commit", "-q", "-m", "A page for a console that is hot, as a draft")

    site = tmp_path / "preview"
    stage.run(sys.executable, "-m", "mkdocs", "build", "--strict", "-q", "-d", str(site))
    page = (site / "alarms" / ID / "index.html").read_text("utf-8")
    assert "<b>Draft.</b> Not reviewed; not for use at the bedside." in page and "What covers the openings" in page
    home = (site / "index.html").read_text("utf-8")
    assert home.count("Console is hot") == 1 and "hot to touch" not in home  # in the list of drafts, not in the finder
    assert not (site / "practice" / f"{ID}.js").exists() and "Console is hot" not in _searched(site)

    # A new tree may have to be approved by name before its proposal passes; then nothing else may be in the way.
    told = stage.alarmtrees("compare", "main", ID, "--format", "text", status=None)
    assert TREE in told
    marks = re.findall(r"fingerprint: (\w+)", told)
    (tmp_path / "approved.txt").write_text("".join(f"{mark}\n" for mark in marks), "utf-8")
    stage.alarmtrees("compare", "main", ID, "--approved", str(tmp_path / "approved.txt"))

    stage.alarmtrees("sign", ID, "--by", BY)
    _edit(stage, {"status: draft": "status: in-use"})
    left = stage.alarmtrees("check", "--strict", status=1)
    assert sorted(re.findall(r"\[([a-z-]+)\]$", left, re.MULTILINE)) == ["missing-scene", "not-on-path"]
    _append("practice.yml", stage, f"  {ID}: {{say: The console is warm to the hand and hums louder.}}\n")
    _append("changes.yml", stage, f'{ID}:\n  - {{on: 2026-11-25, say: "The page is new."}}\n')
    path = stage.root / "kb" / "learning.yml"
    path.write_text(path.read_text("utf-8") + f"      - {{page: {ID}, why: Heat is felt before it alarms.}}\n", "utf-8")
    stage.alarmtrees("check", "--strict")
    stage.git("commit", "-q", "-am", "A page for a console that is hot, in use")
    stage.git("switch", "-q", "main")
    stage.git("merge", "-q", "--no-ff", "-m", "A page for a console that is hot", ID)
    assert stage.alarmtrees("check", "--strict").endswith("3 trees, 0 errors, 0 warnings\n")
    assert stage.git("status", "--porcelain", "trees", "kb") == ""


def test_the_guide_names_every_step_that_is_played() -> None:
    """In its order: what is written down there is what was played above, and nothing that was needed is left out."""
    guide = (REPOSITORY / "DEVELOPERS.md").read_text("utf-8")
    part = guide.split("## A new tree\n")[1].split("\n## ")[0].split("\n### ")[0]
    steps = (
        *("alarmtrees new", "alarmtrees check", "alarmtrees walk", "alarmtrees order", "mkdocs serve"),
        *("alarmtrees compare", "alarmtrees sign", "status: in-use"),
        *("kb/learning.yml", "kb/practice.yml", "kb/changes.yml", "alarmtrees check --strict"),
    )
    places = [part.find(step) for step in steps]
    assert -1 not in places and places == sorted(places), dict(zip(steps, places, strict=True))


def _edit(stage: Stage, changes: dict[str, str]) -> None:
    path = stage.root / TREE
    text = path.read_text("utf-8")
    for old, new in changes.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path.write_text(text, "utf-8")


def _append(name: str, stage: Stage, text: str) -> None:
    path = stage.root / "kb" / name
    path.write_text(path.read_text("utf-8") + text, "utf-8")


def _searched(site: Path) -> str:
    """What the site's own search finds."""
    return (site / "search" / "search_index.json").read_text("utf-8")
