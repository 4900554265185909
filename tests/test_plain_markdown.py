"""What the rule `plain-markdown` lets pass, the site's Markdown library and the reader of slides read alike."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import ClassVar

import markdown
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from alarmtrees.check.rules import RULES
from alarmtrees.check.rules.base import View as CheckView
from alarmtrees.model import Article, Library
from alarmtrees.proof.graph import Graph
from alarmtrees.reading.articles import build_article, read_article
from alarmtrees.reading.open import open_library
from alarmtrees.site.build import article_markdown
from alarmtrees.site.markup import View
from alarmtrees.site.teaching.passages import sections
from alarmtrees.site.teaching.pieces import Piece
from small_library import REPOSITORY, shipped_library

SMALL = open_library(Path(__file__).parent / "small-library")
FRONT = """---
title: Zeroing
description: How the line is set to zero.
part: start
tasks: [zero]
cautions: [patient-first]
sources: [common-practice]
sections: free
review: {by: lead, on: 2026-09-14, next: 2027-09-14}
---
# Zeroing

## Why

"""
SPEAK = ("plain-markdown", "raw-html", "unknown-setting", "unknown-article")
"""The rules that refuse a way of writing."""


@cache
def reader() -> markdown.Markdown:
    """The site's Markdown library as the site sets it up; the generator adds tables, fences and contents itself."""
    given = yaml.safe_load((REPOSITORY / "mkdocs.yml").read_text("utf-8"))["markdown_extensions"]
    names = [name if isinstance(name, str) else next(iter(name)) for name in given]
    return markdown.Markdown(extensions=[*dict.fromkeys([*names, "tables", "fenced_code", "toc"])])


class Flat(HTMLParser):
    """HTML as one line of words: what they are in, and what is strong, stressed, code or a link."""

    BLOCKS: ClassVar = (
        {"p": "", "li": "•", "td": "|", "th": "|", "h1": "##", "h2": "##", "h3": "#", "h4": "#"}
        | {other: other for other in ("hr", "blockquote", "dt", "dd", "div", "img")}
        | {"pre": "```"}
    )

    def __init__(self, html: str) -> None:
        super().__init__()
        self.out: list[str] = []
        self.links: list[bool] = []
        self.numbers: list[int] = []
        self.feed(re.sub(r"<pre><code[^>]*>(.*?)</code></pre>", r"<pre>\1</pre>", html, flags=re.DOTALL))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in ("ol", "ul"):
            self.numbers.append(int(given.get("start") or "1") if tag == "ol" else 0)
        if tag == "li" and self.numbers and self.numbers[-1]:
            self.out.append(f" {self.numbers[-1]}. ")
            self.numbers[-1] += 1
        elif tag in self.BLOCKS:
            self.out.append(f" {self.BLOCKS[tag]} ")
        elif tag in ("b", "strong", "em", "i", "code"):
            self.out.append(f"<{tag.replace('strong', 'b')}>")
        elif tag == "a":
            # Slides show a value, a source and a place on the same page without a link.
            here = (given.get("href") or "").startswith("#")
            own = here or given.get("class") == "setting" or "sources/index" in (given.get("href") or "")
            self.links.append(not own)
            if not own:
                address = re.sub(r"^(\.\./)+", "", given.get("href") or "")
                self.out.append(f"<a {re.sub(r'[.]md(?=#|$)', '.html', address)}>")

    def handle_endtag(self, tag: str) -> None:
        if tag in ("ol", "ul") and self.numbers:
            self.numbers.pop()
        if tag in ("b", "strong", "em", "i", "code"):
            self.out.append(f"</{tag.replace('strong', 'b')}>")
        elif tag == "a" and self.links and self.links.pop():
            self.out.append("</a>")
        elif tag in self.BLOCKS:
            self.out.append(" ")

    def handle_data(self, data: str) -> None:
        self.out.append(data)


def flat(html: str) -> str:
    return " ".join(re.sub(r"[ \n]+", " ", "".join(Flat(html).out)).split(" ")).strip()


def on_the_page(library: Library, article: Article) -> str:
    """The sections of an article as its page shows them."""
    reader().reset()
    html = reader().convert(article_markdown(library, article))
    body = (
        html.partition('<h2 id="why">Why</h2>')[2]
        if article.id == "on-trial"
        else re.sub(r"^.*?(?=<h2 id=\"(?!_))", "", html, flags=re.DOTALL)
    )
    return flat(re.split(r'<section class="part"', body)[0])


def on_slides(library: Library, article: Article) -> str:
    """The same, as the reader of slides gives them."""
    signs = {"bullet": "•", "box": "•", "heading": "#", "row": "", "text": "", "code": "```"}
    told: list[str] = []
    for section in sections(View(library, article.id), article):
        head = before = None
        if section.title:
            told.append(f"<h2>{section.title}</h2>")
        for part in section.parts:
            if isinstance(part, Piece):
                told.append(part.head if part.kind == "row" and part.head != head else "")
                head = part.head if part.kind == "row" else None
                sign = "" if part.kind == before == "code" else signs.get(part.kind, f"{part.number}.")
                before = part.kind
                told.append(f" {sign} ")
                told.append(part.html)
    return flat("".join(told).replace("<h2>Why</h2>", "", 1) if article.id == "on-trial" else "".join(told))


def refused(library: Library, article: Article) -> list[str]:
    own = replace(library, trees={}, calculators={}, articles={article.id: article}, sources_read=())
    view = CheckView(own, Graph({}), date(2026, 10, 2))
    return [one.message for rule in RULES if rule.id in SPEAK for one in rule.findings(view)]


def written(folder: Path, text: str) -> Article:
    path = folder / "kb" / "on-trial.md"
    path.parent.mkdir(exist_ok=True)
    path.write_text(FRONT + text, encoding="utf-8", newline="")
    source = read_article(path, folder)
    assert source is not None and not source.problems, source
    return build_article(source)


# Each way of writing that authors of Markdown use, and whether an article may hold it.
PLAIN = [
    "a\n\n```text\nb *c*\n```\n\nd",
    "plain words",
    "**strong**",
    "*stress*",
    "_stress_",
    "**two words**, and",
    "(*two words*)",
    "`code` here",
    "`` a ` b ``",
    "[words](plugging-in.md)",
    "[words](plugging-in.md#why), and",
    "[**strong**](plugging-in.md)",
    "[*a* b](#why)",
    "[w](https://example.org/a?b=1&c=d)",
    r"\*no\* \_no\_ \[a\]",
    "2 * 3 * 4",
    "snake_case_name",
    "a_b and c_d",
    "{resting_warning}",
    "**{resting_warning}**",
    "{{ brace",
    "So. [@doe-2001]",
    "AT&T and R & D",
    "a < b > c",
    "one\ntwo **over\nlines**",
    "- item\n- **item**\n  goes on",
    "1. one\n2. two",
    "- [ ] box\n- [x] box *a*",
    "### Head *a*",
    "| a | b |\n|---|---|\n| **c** | `d` |",
    "[no link] and [none]",
    "**[a](plugging-in.md)**",
    "a\n\n- b",
]
REFUSED = [
    "```\na",
    "````\na\n```",
    r"\`a\`",
    r"\{{",
    "# Two",
    "- - a",
    "1. - a",
    "#a",
    "***both***",
    "*a **b** c*",
    "**a *b* c**",
    '[t](plugging-in.md "title")',
    '[t](plugging-in.md "title (x)")',
    "a*b*c",
    "a**b**c",
    "[a [b] c](plugging-in.md)",
    "a &amp; b",
    "a &#60; b",
    "<https://example.org/>",
    "[a][b]\n\n[b]: plugging-in.md",
    "[a]\n\n[a]: plugging-in.md",
    "Head\n====",
    "Head\n----",
    "> said",
    "* * *",
    "a\n\n***\n\nb",
    "word\n: meaning",
    "!!! note\n    x",
    "![x](plugging-in.md)",
    "a <b>b</b>",
    "*{resting_warning}*",
    "__strong__",
    "**a",
    "a**",
    "_a b",
    "a `b",
    "a ` b",
    "[t](<plugging-in.md>)",
    "[t]( plugging-in.md )",
    "text {: #x}",
    "[t](https://e.org/a_(b))",
    "*a\n\nb*",
    "2 *3* 4*",
    "`a\nb` c",
    "_a_b_",
    "**a_b_**",
    "- a\n\n1. b",
    "1. a\n3. b",
    "2. a",
    "text\n- item",
    "text\n| a |\n|---|",
    "| a |",
    "| a | b |\n|---|---|\n| c |",
    "| a |\n|---|\n| b",
    "    code",
    "- a\n\n    more",
    "a | b\n--|--\nc | d",
]


@pytest.mark.parametrize("text", PLAIN)
def test_plain_ways_of_writing_pass_and_read_alike(tmp_path: Path, text: str) -> None:
    article = written(tmp_path, text)
    assert not refused(SMALL, article)
    assert on_the_page(SMALL, article) == on_slides(SMALL, article) != ""


@pytest.mark.parametrize("text", REFUSED)
def test_other_ways_of_writing_are_refused(tmp_path: Path, text: str) -> None:
    assert refused(SMALL, written(tmp_path, text))


SIGNS = [
    "*",
    "**",
    "***",
    "_",
    "__",
    "`",
    "``",
    "[",
    "]",
    "](plugging-in.md)",
    "(",
    ")",
    "|",
    "\\",
    "&amp;",
    "<",
    ">",
    "{",
    "}",
]
SIGNS += [
    "{resting_warning}",
    "[@doe-2001]",
    "{{",
    "!",
    "#",
    ":",
    "- ",
    "1. ",
    "2. ",
    "a",
    "bc",
    "9",
    " ",
    " ",
    "  ",
    "\n",
    "\n\n",
]
SIGNS += [
    "[ab](plugging-in.md)",
    "**ab**",
    "*ab*",
    "`ab`",
    "    ",
    "---",
    "===",
    "\n- ",
    "\n1. ",
    "\n| a | b |\n|---|---|\n| ",
    '"',
    ".",
]


@settings(deadline=None, derandomize=True, max_examples=300)
@given(st.lists(st.sampled_from(SIGNS), min_size=1, max_size=9).map("".join))
def test_whatever_is_written_is_refused_or_reads_alike(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    article = written(tmp_path_factory.getbasetemp(), text)
    if not refused(SMALL, article):
        assert on_the_page(SMALL, article) == on_slides(SMALL, article)


@pytest.mark.parametrize("key", sorted(shipped_library().articles))
def test_shipped_articles_read_alike(key: str) -> None:
    library = replace(shipped_library(), waveforms={}, waveform_series={}, pictures={})
    article = replace(library.articles[key], pictures={})
    assert not refused(library, article)
    assert on_the_page(library, article) == on_slides(library, article)
