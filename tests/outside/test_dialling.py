"""A link dials what one number says, or there is none: held to the grammar of RFC 3966, section 3.

From memory of it: a global number is "+" and digits, a local one holds hexadecimal digits, "*" and "#"; blanks are no
separators. RFC 3986, section 3.5: "#" begins a fragment, so it is written %23. ITU-T E.164: 15 digits at most. The
entries are of our own making.
"""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alarmtrees.model import Role
from alarmtrees.model.dialling import dialled, undialled
from alarmtrees.model.finding import Place
from alarmtrees.reading.load import parse
from alarmtrees.site.markup import phone

GRAMMAR = re.compile(r"\+[0-9]+|[0-9A-Fa-f*#]+")

ONE = {
    "5 5501": "55501",
    "55501": "55501",
    "0": "0",
    "+44 20 7946 0000": "+442079460000",
    "+44\u00a020\u00a07946\u00a00000": "+442079460000",
    "020-7946.0000": "02079460000",
    "9#1234": "9%231234",
    "*55 5501": "*555501",
    "123456789012345": "123456789012345",
}

NOT_ONE = (
    *("1234 (day), 5678 (night)", "1234 or 5678", "+44 (0)20 7946 0000", "1234 ext. 56", "ask ward 3, bed 12"),
    *("0800 CARDIAC", "switchboard", "#", "1234/5678", "1234 (5678)", "(020) 7946 0000", "5501 - 5503", "5501–5503"),
    *(
        "1234 x56",
        "bleep 55",
        "1234,,56",
        "1234;ext=56",
        "1234\n5678",
        "12\t34",
        "",
        " ",
        "+",
        "*",
        "++44 20",
        "44+20",
        "+44*20",
    ),
    *("٠١٢٣٤", "１２３４", "¹²³", "12\u200b34", "\u200f1234", "12\u200e34", "12\u202f34", "1234\u2060", "①②", "1234 "),
    *(
        "1" * 16,
        "1 " * 40 + "1",
        "+" + "1" * 16,
        "1--2",
        "-1",
        "1-",
        "tel:1234",
        "javascript:alert(1)",
        '12"34',
        "1%32",
    ),
)


def shown(text: str) -> str:
    return phone(Role("r", "r", text, False, Place("kb/settings.yml", 1, 1)))


@pytest.mark.parametrize("text", ONE)
def test_one_number_is_dialled_as_written(text: str) -> None:
    assert dialled(text) == ONE[text]
    assert f'href="tel:{ONE[text]}"' in shown(text)


@pytest.mark.parametrize("text", NOT_ONE)
def test_what_is_not_one_number_is_text_and_says_why(text: str) -> None:
    assert dialled(text) is None and undialled(text)
    assert "href" not in shown(text)


SIGNS = st.text(st.sampled_from("0123456789٣３+*#-. ()\u00a0\u200b\u200fx,/\n"), max_size=24)


@settings(max_examples=500, deadline=None, derandomize=True)
@given(SIGNS)
def test_whatever_is_dialled_is_a_number_of_the_grammar_and_says_what_is_written(text: str) -> None:
    number = dialled(text)
    if number is None:
        return
    address = urlsplit(f"tel:{number}")
    assert not address.fragment and not address.query
    assert GRAMMAR.fullmatch(unquote(address.path))
    assert unquote(number) == re.sub("[-. \u00a0]", "", text)


@pytest.mark.parametrize(
    "written", ["|\n  5501\n  5502\n", ">\n  5501\n  5502\n", "5501\n  5502\n", '"5501\n  5502"\n']
)
def test_two_lines_are_never_one_number(written: str) -> None:
    """YAML folds lines into one, and blanks stand in numbers: so the lines are told before they are gone."""
    problems = parse(f"phone: {written}\n", "kb/settings.local.yml", "settings.local", "settings").problems
    assert [problem.rule for problem in problems] == ["lost-text"]


def test_no_browser_makes_links_of_digits_by_itself() -> None:
    """Some make a link of anything that looks like a number, an invented one too, unless a page says otherwise."""
    theme = Path(__file__).parents[2] / "site_src" / "theme" / "main.html"
    assert '<meta name="format-detection" content="telephone=no">' in theme.read_text("utf-8")
