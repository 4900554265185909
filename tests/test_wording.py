"""The only mark-up of a text: `{setting}` and `{{`."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarmtrees.model import Setting
from alarmtrees.model.finding import Place
from alarmtrees.model.wording import fill, names

HERE = Place("kb/settings.yml", 1, 1)


def setting(name: str, value: str | None, unit: str | None = None) -> Setting:
    return Setting(name, "A value", value, unit, None, None, None, None, HERE)


SETTINGS = {
    "rest": setting("rest", "15", "min"),
    "ratio": setting("ratio", "1:2"),
    "angle": setting("angle", None, "degrees"),
    "odd": setting("odd", "{rest}"),
}


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("nothing here", "nothing here"),
        ("", ""),
        ("At {rest} call.", "At 15\u00a0min call."),
        ("{ratio}", "1:2"),
        ("Raised to {angle}.", "Raised to not set here."),
        ("{rest}{rest}", "15\u00a0min15\u00a0min"),
        ("{{rest}", "{rest}"),
        ("{{{rest}", "{15\u00a0min"),
        ("{{ and {{", "{ and {"),
        ("a } b", "a } b"),
        ("{unknown}", "{unknown}"),
        ("{REST} { rest }", "{REST} { rest }"),
        ("{odd}", "{rest}"),  # a value is a value: it is not read again
        ("{", "{"),
        ("{}", "{}"),
    ],
)
def test_fill(text: str, shown: str) -> None:
    assert fill(text, SETTINGS) == shown


def test_outside_any_library_names_stay_as_written() -> None:
    assert fill("At {rest} or {{ call.", None) == "At {rest} or { call."


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("nothing", []),
        ("{rest} then {ratio} then {rest}", ["rest", "ratio", "rest"]),
        ("{{rest}", []),
        ("{", [""]),
        ("{}", [""]),
        ("{ rest }", [" rest "]),
        ("{rest", [""]),
        ("{{{rest}", ["rest"]),
    ],
)
def test_names(text: str, found: list[str]) -> None:
    assert list(names(text)) == found


@given(st.text(max_size=40))
def test_fill_never_raises_and_doubling_braces_gives_the_text_back(text: str) -> None:
    fill(text, SETTINGS)
    assert fill(text.replace("{", "{{"), SETTINGS) == text
