"""Files of stories that fit their schema -> the stories of a tree."""

from __future__ import annotations

from ..model import Map, Source
from ..model.finding import Place
from ..model.story import Demand, Given, Story
from ..model.wording import seconds


def build_stories(source: Source) -> tuple[Story, ...]:
    """The stories of one file; see `kb/stories/` in DEVELOPERS.md."""
    assert source.data is not None
    return tuple(_story(raw, source) for raw in source.data["stories"])


def _story(raw: Map, source: Source) -> Story:
    end = raw["end"]
    answers = raw["answers"]
    demands = raw.get("must")
    return Story(
        id=raw["id"],
        tree=source.stem,
        say=raw["say"],
        opens=raw["opens"],
        answers=tuple(
            Given(one["anytime"], True, source.place(spot))
            if isinstance(one, Map)
            else Given(one, False, source.place(spot))
            for one, spot in zip(answers, answers.item_at, strict=True)
        ),
        must=tuple(_demand(one, source.place(one.at)) for one in demands or ()),
        never=tuple(raw.get("never", ())),
        end=end if isinstance(end, str) else next(iter(end)),
        whom=None if isinstance(end, str) else next(iter(end.values())),
        causes=tuple(raw.get("causes", ())),
        raw=raw,
        place=source.place(raw.at),
    )


def _demand(raw: Map, place: Place) -> Demand:
    return Demand(raw.get("mark"), raw.get("call"), seconds(raw["by"]) if "by" in raw else None, place)
