"""The page of the whole job: every article, under the part of the work it belongs to."""

from __future__ import annotations

from ...model import Article, Library
from ...model.addresses import CALCULATORS, FOOT, JOB, LEARN
from ...proof.order import by_part
from ...reading.articles import PARTS
from ..markup import Page, View, block, esc, items, whole

TITLE = FOOT[JOB]


def job_page(library: Library) -> Page:
    """The list of all articles."""
    view = View(library, JOB)
    groups = [_group(view, part, articles) for part, articles in by_part(library).items()]
    ways = f'{_table(view)}{_numbers(view)} For new colleagues: <a href="{view.to(LEARN)}">learn</a>.'
    told = f"<p>The work with a balloon pump around its alarms, in the order of the work.{ways}</p>"
    return Page(
        path=JOB,
        title=TITLE,
        description="Every article: the work with a balloon pump around its alarms.",
        body=whole([f'<h1 id="_top">{TITLE}</h1>', told if groups else _none(), *groups]),
    )


def _table(view: View) -> str:
    """The way to the table of all tasks, where there is one."""
    whole_job = view.library.articles.get("whole-job")
    if whole_job is None:
        return ""
    return f' Each task in one table: <a href="{view.to(whole_job.id)}">{view.say(whole_job.title)}</a>.'


def _numbers(view: View) -> str:
    """The way to the calculators, where there are some."""
    if not view.library.calculators:
        return ""
    return f' Numbers to work out: <a href="{view.to(CALCULATORS)}">calculators</a>.'


def _none() -> str:
    return "<p>There are no articles yet.</p>"


def _group(view: View, part: str, articles: list[Article]) -> str:
    entries = items("ul", (_entry(view, article) for article in articles), "articles")
    return block("section", [f"<h2>{PARTS[part]}</h2>", entries], class_="group")


def _entry(view: View, article: Article) -> str:
    return (
        f'<a class="article-link" href="{view.to(article.id)}" data-article="{esc(article.id)}">'
        f"<b>{view.say(article.title)}</b> <span>{view.say(article.description)}</span></a>"
    )
