"""The home page: every alarm, grouped by what it is about, the most urgent first."""

from __future__ import annotations

from ...learning.soonest import by_subject
from ...model import ABOUT, Library, Tree
from ...model.addresses import CALCULATORS, FOOT, HOME, JOB, LEARN, tree_path
from ..finder import FALLBACK, LEARNED
from ..markup import UNSEARCHED, Page, View, alarm_link, block, calls, items, whole
from ..review.review import recalled, withdrawn
from .find import finder_block

_ASSETS = (
    *(
        "home.css",
        "finder.css",
        "vendor/minisearch-7.2.0.js",
        "finder-words.js",
        "finder-guess.js",
        "finder-match.js",
        "finder.js",
    ),
)


def home_page(library: Library) -> Page:
    """The list of all alarms, and whom to call; of a library whose drafts are set apart."""
    view = View(library, HOME)
    known = {about: [tree for tree in trees if tree.id != FALLBACK] for about, trees in by_subject(library).items()}
    groups = [_group(view, about, trees) for about, trees in known.items() if trees]
    title = '<h1 id="_top">Balloon pump alarms</h1>'
    first = f'<p class="strip strip--short" {UNSEARCHED}><b>Look at the patient first.</b></p>'
    top = block("div", [first, calls(library), finder_block(library)], class_="first")
    listed = block("div", [*groups, _not_here(view)], class_="groups")
    return Page(
        path=HOME,
        title="Balloon pump alarms",
        description="Every balloon pump alarm, from what you see or hear to the first safe step.",
        body=whole([title, top, listed, *_job(view), *_recalled(view), *_being_written(view)]),
        assets=(*_ASSETS, LEARNED) if library.phrases else _ASSETS,
    )


def _group(view: View, about: str, trees: list[Tree]) -> str:
    entries = items("ul", (alarm_link(view, tree) for tree in trees), "alarms")
    return block("section", [f"<h2>{ABOUT[about]}</h2>", entries], class_="group")


def _not_here(view: View) -> str:
    fallback = view.library.trees.get(FALLBACK)
    told = "Stay with the patient. Look at pulse and pressure. Call; do not try things on the console."
    lines = [
        "<h2>My alarm is not here</h2>",
        items("ul", [alarm_link(view, fallback)], "alarms") if fallback else "",
        f"<p>{told}</p>",
    ]
    return block("section", lines, class_="group group--other")


def _job(view: View) -> list[str]:
    """The ways to the articles and the calculators, where there are some, and to the page for learners."""
    ways = []
    if view.library.articles:
        told = "Starting, timing, rounds, changes, transport, weaning, removal, handing over: all around the alarms."
        ways.append((JOB, FOOT[JOB], told))
    if view.library.calculators:
        ways.append((CALCULATORS, "Calculators", "Gas left, height, timing, a reserve for a move, a weaning plan."))
    ways.append((LEARN, "Learn", "A first month: what to read in which order, questions, cases, a record to sign."))
    links = [
        f'<a class="article-link" href="{view.to(path)}"><b>{name}</b> <span>{told}</span></a>'
        for path, name, told in ways
    ]
    return ['<h2 class="part">Not an alarm?</h2>', items("ul", links, "articles")]


def _recalled(view: View) -> list[str]:
    """What is withdrawn, since when and why; nothing where nothing is."""
    lines = [recalled(view, tree) for tree in withdrawn(view.library)]
    return ['<h2 class="part">No longer in use</h2>', items("ul", lines)] if lines else []


def _being_written(view: View) -> list[str]:
    """Drafts, for whoever writes and reviews them; nothing where there are none."""
    drafts = sorted(view.library.drafts.values(), key=lambda tree: tree.title.casefold())
    lines = (f'<a href="{view.to(tree_path(tree.id))}">{view.say(tree.title)}</a>' for tree in drafts)
    told = '<h2 class="part">Drafts, not for use at the bedside</h2>'
    return [block("section", [told, items("ul", lines)], **{"data-search-exclude": "yes"})] if drafts else []
