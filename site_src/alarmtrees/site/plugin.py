"""Makes the site's pages from the library. The only module that knows MkDocs.

The library is checked before anything is built, so a broken one leaves the old site in place.
"""

from __future__ import annotations

import errno
import gc
import json
import logging
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from fnmatch import fnmatch
from functools import partial
from html import escape
from pathlib import Path
from typing import Any, Literal

from mkdocs.config import base, config_options
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, PluginError
from mkdocs.livereload import LiveReloadServer
from mkdocs.plugins import BasePlugin, CombinedEvent, event_priority, get_plugin_logger
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.nav import Navigation
from mkdocs.structure.pages import Page as SitePage
from mkdocs.structure.toc import AnchorLink, get_toc
from mkdocs.utils import is_error_template
from mkdocs.utils.templates import TemplateContext

from ..check.report import as_text
from ..check.rules import RULES
from ..check.run import CheckResult, check_library
from ..model import Article, Library
from ..model.addresses import CALCULATORS, FOOT, HOME, JOB, LEARN, SETTINGS
from ..model.finding import told
from ..proof.analysis import Analysis
from ..reading.keep import Store, digest, digest_of_files, versions
from ..reading.open import LOCAL_SETTINGS
from .build import (
    ARTICLE_ASSETS,
    CODE,
    HAS_GRAPHVIZ,
    Imprint,
    Page,
    article_markdown,
    build_all,
    calls,
    cautions_list,
    invented_mark,
    invented_told,
    link_words,
    tidy_traces,
    unplayed,
)
from .clean import clean
from .minified import MINIFIER, short_script, short_style
from .offline import BUILD, PRIVATE, WEB_MANIFEST, SealError, content_date, is_changed, seal, web_manifest
from .policy import policy
from .swap import Beside, SwapError, recover

CAUTIONS_HERE = "<!-- all cautions -->"
"""In a written page, the place where all cautions are put in."""

# The base theme's own look, other languages and debugging aids: nothing here asks for them, and a
# site that is to be kept on a phone must be small.
_NOT_NEEDED = (
    "*.map",
    "assets/javascripts/lunr/*",
    "assets/stylesheets/main.*.css",
    "assets/stylesheets/palette.*.css",
    "assets/images/favicon.png",
    "sitemap.xml",
    PRIVATE,
)

_OWN_SCRIPT = re.compile(r"assets/[^/]+\.js")
_JOINED = {
    "assets/page.js": ("assets/page.js", "assets/clock.js", "assets/shift.js", "assets/later.js"),
    "assets/bench.js": tuple(
        f"assets/{name}.js"
        for name in (
            *("circulation-signals", "circulation", "circulation-read"),
            *("bench-judge", "bench-strip", "bench", "bench-ways"),
        )
    ),
    "assets/walk.js": tuple(
        f"assets/{name}.js" for name in ("resting", "walk-kept", "walk-holds", "walk-looks", "walk-bar", "walk")
    ),
}
"""Scripts that reach a page as one file, in this order: on a slow network each file asked for costs seconds."""

KEPT = ".cache/pages"
"""Where a build keeps its pages for the next one, below the library's folder; git ignores it."""

_FRAMED_BY = versions("mkdocs", "mkdocs-material", "Jinja2", "Markdown", MINIFIER)
_OF_ONE_RUN = ("config_file", "dev_addr", "site_dir", "strict", "use_directory_urls", "watch")
"""Options of a run that no page shows; but for the addresses of pages, which are a part of each page's inputs."""

_UNSEARCHED = re.compile(r"<([a-z]+)\b[^<>]*\sdata-search-exclude=[^<>]*>")
_HEADING = re.compile(r"<h[1-6]\b")
_TO_SEARCH = re.compile(r'\s?data-search-\w+="[^"]+"')
"""What the search takes out of a page when it has read it."""

_AUTHORS = ("title", "description")
"""What an author may say of a page in its front matter."""

_ANCHOR = re.compile(r'\sid="([^"]+)"')

log = get_plugin_logger(__name__)


class AlarmTreesConfig(base.Config):  # type: ignore[no-untyped-call]
    """Options of the plugin: `root` is the library's folder, the one of mkdocs.yml unless given."""

    root = config_options.Optional(config_options.Type(str))


class AlarmTreesPlugin(BasePlugin[AlarmTreesConfig]):  # type: ignore[no-untyped-call]
    """Checks the library, then adds its pages."""

    library: Library | None = None
    analysis: Analysis | None = None
    serving = False
    said: dict[str, list[str]] = {}  # noqa: RUF012 -- never added to: each check brings its own
    store = Store(None)
    asked_for = ""
    beside: Beside | None = None

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:
        """Remember what is run. With this event, one plugin lives through all builds of a server."""
        self.serving = command == "serve"

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Find the library's folder.

        Nearly all that a build makes stays until its end: to look for circles in it costs a tenth of the time.
        """
        gc.disable()
        here = Path(config.config_file_path).parent if config.config_file_path else Path.cwd()
        self.root = (here / (self.config.root or ".")).resolve()
        self.store = Store(self.root / KEPT, CODE)
        self.kept: dict[str, dict[str, Any]] = {}
        self.framed: dict[str, list[Any]] = {}
        self.found_before = 0
        # A list of pages for search engines: of no use here, and it would differ from one build to the next.
        config.theme.static_templates.discard("sitemap.xml")
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Check the library; with an error in it nothing is built, and the old site stays.

        A server that has built before goes on with the library as it was, and shows the faults on every page.

        Raises:
            PluginError: with all findings, as `file:line:column: severity: message [rule]`.
        """
        faults = ""
        recover(Path(config.site_dir).resolve())
        log.info("Checking the library")
        try:
            result = check_library(self.root, date.today())
        except OSError as fault:
            raise PluginError(str(fault)) from fault
        if result.stopping:
            faults = f"The library has faults; the site stays as it was.\n{as_text(result)}"
            if not self.serving or self.library is None:
                raise PluginError(faults)
            log.error(faults)
        else:
            self.library, self.analysis = result.library.published(), result.published or result.analysis
            told = [(one.file, one.text) for one in result.library.sources_read if one.kind != "tree"]
            self.facts = digest(told)
            self.said = {}
            for finding in (one for one in result.findings if one in result.of_drafts):
                self.said.setdefault(finding.place.file, []).append(f"{finding.severity}: {finding.message}")
            _log_findings(result)
        assert self.library is not None
        config.extra["library"] = {
            "hospital": self.library.hospital,
            "fictional": self.library.fictional,
            "invented": self.library.invented,
            "mark": invented_mark(self.library),
            "calls": calls(self.library),
            "told": invented_told(self.library),
            "articles": bool(self.library.articles),
            "calculators": bool(self.library.calculators),
            "at": {"home": HOME, "job": JOB, "calculators": CALCULATORS, "learn": LEARN, "settings": SETTINGS},
            "foot": [(path, name) for path, name in FOOT.items() if path != CALCULATORS or self.library.calculators],
            "faults": faults,
            "dated": content_date(self.library),
            "changed": is_changed(self.library),
            "build": BUILD,
            "kept": not self.serving,
        }
        # All others ask the configuration where to write; readers keep the old site until this one is whole.
        self.asked_for = config.site_dir
        try:
            self.beside = Beside(Path(config.site_dir))
        except SwapError as fault:
            raise PluginError(str(fault)) from fault
        config.site_dir = str(self.beside.folder)

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add the generated pages, and leave out what no page needs.

        Raises:
            PluginError: a written page stands where a generated one belongs.
        """
        for file in [file for file in files if any(fnmatch(file.src_uri, shape) for shape in _NOT_NEEDED)]:
            files.remove(file)
        _join(files)
        for file in (one for one in files.javascript_files() if _OWN_SCRIPT.fullmatch(one.src_uri)):
            file.content_string = short_script(file.content_string)
        assert self.library is not None
        if not HAS_GRAPHVIZ:
            log.warning("pygraphviz is missing: trees are shown as lists and not drawn; pip install pygraphviz")
        in_nav = set(_paths(config.nav))
        if waiting := unplayed(self.library):
            log.info(f"Playing {waiting} pressure traces, once, half a second each")
        log.info(f"Drawing and writing the pages of {len(self.library.trees)} alarms")
        imprint = Imprint(config.site_url or "", BUILD)
        pages, extras = build_all(self.library, RULES, imprint, self.store, self.analysis, self.said)
        for file in files.documentation_pages():
            if file.src_uri not in in_nav:  # those take their title from it
                _Written(file, config, self.store)
        # Two names may lead to one page, such as a.md and a/index.md: what counts is where it would be written.
        written = {file.dest_uri: file for file in files.documentation_pages()}
        for page in pages:
            files.append(file := _file(page, written, config, in_nav, self.store))
            written[file.dest_uri] = file
        for extra in extras:
            files.append(File.generated(config, extra.path, content=extra.text))
        manifest = web_manifest(config.site_name, config.site_description or "")
        files.append(File.generated(config, WEB_MANIFEST, content=manifest))
        return files

    def on_page_markdown(self, markdown: str, *, page: SitePage, config: MkDocsConfig, files: Files) -> str:
        """Write out the articles, and put all cautions where a page asks for them."""
        assert self.library is not None
        if page.file.generated_by is None:  # what a page fetches, and which frame it stands in, no author chooses
            page.meta = {key: str(page.meta[key]) for key in _AUTHORS if key in page.meta}
        if article := self._article(page):
            page.meta["assets"] = ARTICLE_ASSETS
            return article_markdown(self.library, article)
        if CAUTIONS_HERE not in markdown:
            return markdown
        path = page.file.dest_uri.removesuffix(".html")
        return markdown.replace(CAUTIONS_HERE, cautions_list(self.library, path))

    def on_page_content(self, html: str, *, page: SitePage, config: MkDocsConfig, files: Files) -> str:
        """Link the words of the glossary in the articles; let through of an author's page what is known to be harmless.

        What a plugin makes is its own affair: ours escapes all that it is given.
        """
        assert self.library is not None
        if page.file.generated_by is not None:
            return html
        library, article = self.library, self._article(page)

        def cleaned() -> tuple[str, list[str]]:
            return clean(link_words(html, library, article.id) if article else html)

        shown: str
        shown, lost = self.store.get("cleaned", [html, self.facts, article and article.id], cleaned)
        if lost:
            log.warning(f"{page.file.src_uri}: left out of the page, for it may not stand there: {', '.join(lost)}")
        return shown

    def _article(self, page: SitePage) -> Article | None:
        """The article that a page shows; None for all other pages."""
        assert self.library is not None
        name, dot, rest = page.file.src_uri.partition(".md")
        return self.library.articles.get(name) if dot and not rest else None

    def on_env(self, env: Any, *, config: MkDocsConfig, files: Files) -> Any:
        """Look for the pages that an earlier build has put into the frame of the site; they need no template."""
        env.globals["policy"] = policy
        # Lines of a template that hold no more than a tag of its language are no lines of the page.
        env.trim_blocks = env.lstrip_blocks = True
        env.globals["styles"] = partial(_styles, env)
        env.globals["script"] = partial(_script, env)
        pages = [page for file in files.documentation_pages() if (page := file.page) is not None]
        frame = self._frame(config)
        for page in pages:
            inputs = [frame, page.url, page.title, page.edit_url, page.canonical_url, repr(page.meta), page.content]
            self.framed[page.file.src_uri] = inputs
            if found := self.store.find("page", inputs):
                self.kept[page.file.src_uri] = found[0]
                page.meta = {"template": "partials/kept.html", "search": {"exclude": True}}
                page.content = ""
        log.info(f"Writing {len(pages)} pages, {len(self.kept)} of them as they were")
        return env

    def _frame(self, config: MkDocsConfig) -> str:
        """What stands for all that a page is put into: the theme, the options, and what is said of the library."""
        own = digest_of_files(map(Path, config.theme.dirs[:1]))
        return json.dumps([own, _options(config), config.extra["library"]], sort_keys=True, default=str)

    @event_priority(100)
    def _before_search(
        self, context: TemplateContext, *, page: SitePage, config: MkDocsConfig, nav: Navigation
    ) -> TemplateContext:
        """What the search found on a kept page is known; of a new one it is given what it shall find alone."""
        found = _found(config)
        if kept := self.kept.get(page.file.src_uri):
            found.extend(kept["found"])
            context["kept"] = kept["html"]  # type: ignore[typeddict-unknown-key]
        self.found_before = len(found)
        self.whole = page.content or ""
        page.content = searched(self.whole)
        return context

    @event_priority(-100)
    def _after_search(
        self, context: TemplateContext, *, page: SitePage, config: MkDocsConfig, nav: Navigation
    ) -> TemplateContext:
        """The whole page again, without what is said to the search."""
        page.content = _TO_SEARCH.sub("", self.whole)
        return context

    on_page_context = CombinedEvent(_before_search, _after_search)

    @event_priority(-100)
    def on_post_page(self, output: str, *, page: SitePage, config: MkDocsConfig) -> str:
        """Keep a new page for the next build, with what the search found on it."""
        if page.file.src_uri not in self.kept:
            kept = {"html": output, "found": _found(config)[self.found_before :]}
            self.store.put("page", self.framed[page.file.src_uri], kept)
        return output

    def on_template_context(
        self, context: TemplateContext, *, template_name: str, config: MkDocsConfig
    ) -> TemplateContext:
        """The page for wrong addresses is shown at any depth: its links start from a root that it names itself."""
        if is_error_template(template_name):
            context["root"] = f"{context['base_url'].rstrip('/')}/"  # type: ignore[typeddict-unknown-key]
            context["base_url"] = ""
        return context

    @event_priority(-200)
    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Seal the site, when all other plugins have written their files, and give it to readers.

        Raises:
            PluginError: the site cannot be published.
        """
        assert self.library is not None and self.beside is not None
        try:
            private = self.root / "kb" / LOCAL_SETTINGS
            seal(self.beside.folder, content_date(self.library), kept=not self.serving, private=private)
            self.beside.take_over()
        except (SealError, SwapError) as fault:
            raise PluginError(str(fault)) from fault
        self.beside, config.site_dir = None, self.asked_for
        tidy_traces(self.library)
        self.store.clear()
        if not self.serving:
            gc.freeze()  # else the interpreter looks through all of it twice before it ends
        gc.enable()

    def on_build_error(self, *, error: Exception) -> None:
        """Leave nothing behind; a server lives on.

        Raises:
            Abort: a file could not be read or written, as on a full disk. It is told in one line.
        """
        gc.enable()
        if self.beside:
            self.beside.give_up()
            self.beside = None
        if isinstance(error, OSError):
            # Of a full disk the system names the file that was being copied, which has nothing to do with it.
            full = error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
            where = self.asked_for if full else error.filename
            log.error(f"{f'{where}: ' if where else ''}{error.strerror or error}. The site stays as it was.")
            raise Abort("Aborted with a file that cannot be read or written!") from error

    def on_serve(
        self, server: LiveReloadServer, *, config: MkDocsConfig, builder: Callable[..., Any]
    ) -> LiveReloadServer:
        """Build again when a tree, a schema or the theme changes; the articles are watched already."""
        for folder in (self.root / "trees", self.root / "schema", *map(Path, config.theme.dirs[:1])):
            if folder.is_dir():
                server.watch(str(folder))
        return server


class _Made(SitePage):
    """A page that is HTML already: no reader of Markdown has to look at it."""

    def __init__(self, made: Page, file: File, config: MkDocsConfig) -> None:
        super().__init__(None, file, config)
        self.made = made

    def read_source(self, config: MkDocsConfig) -> None:
        """Take the head as it is."""
        self.markdown = ""
        self.meta = _head(self.made)

    def render(self, config: MkDocsConfig, files: Files) -> None:
        """Take the body as it is; say which anchors articles may link to."""
        self.content = self.made.body
        self.present_anchor_ids = set(_ANCHOR.findall(self.content))


class _Written(SitePage):
    """A page that is read from Markdown: what was read is kept for the next build, if nothing was said of it."""

    def __init__(self, file: File, config: MkDocsConfig, store: Store) -> None:
        super().__init__(None, file, config)
        self.store = store

    def render(self, config: MkDocsConfig, files: Files) -> None:
        """Take what an earlier build has read of the same text; else read it."""
        others = [(file.src_uri, file.dest_uri, file.inclusion.name) for file in files]
        loud = logging.getLogger("mkdocs").getEffectiveLevel()
        inputs = [self.file.src_uri, self.file.dest_uri, self.markdown, _options(config), loud, others]
        if found := self.store.find("written", inputs):
            self._take(found[0], files)
            return
        heard = _Heard()
        logging.getLogger("mkdocs").addHandler(heard)
        try:
            super().render(config, files)
        finally:
            logging.getLogger("mkdocs").removeHandler(heard)
        # A warning belongs to each build, also to one that would not have to read the page.
        if not heard.records:
            self.store.put("written", inputs, self._read())

    def _read(self) -> dict[str, Any]:
        linked = self.links_to_anchors
        return {
            "content": self.content,
            "toc": [_token(link) for link in self.toc],
            "title": self._title_from_render,
            "ids": sorted(self.present_anchor_ids or ()),
            "linked": None if linked is None else [[file.src_uri, anchors] for file, anchors in linked.items()],
        }

    def _take(self, kept: dict[str, Any], files: Files) -> None:
        self.content = kept["content"]
        self.toc = get_toc(kept["toc"])
        self._title_from_render = kept["title"]
        self.present_anchor_ids = set(kept["ids"])
        if kept["linked"] is not None:
            self.links_to_anchors = {files.src_uris[name]: anchors for name, anchors in kept["linked"]}


class _Heard(logging.Handler):
    """Counts what is said."""

    records = 0

    def emit(self, record: logging.LogRecord) -> None:
        """One more."""
        self.records += 1


def _token(link: AnchorLink) -> Any:
    """An entry of a page's list of headings as the reader of Markdown gives it."""
    children = [_token(child) for child in link.children]
    return {"name": link.title, "id": link.id, "level": link.level, "children": children}


def _options(config: MkDocsConfig) -> str:
    """What stands for the options of the site, and for the programs that follow them."""
    options = [{k: v for k, v in given.items() if k not in _OF_ONE_RUN} for given in config.user_configs]
    return json.dumps([_FRAMED_BY, options], sort_keys=True, default=str)


def _script(env: Any, name: str) -> str:
    """A script of the theme that stands in a page."""
    return short_script(env.loader.get_source(env, f"assets/{name}")[0])


def _styles(env: Any, names: Iterable[str]) -> str:
    """The styles among some files of the theme, as they stand in a page."""
    sources = (env.loader.get_source(env, f"assets/{name}")[0] for name in names if name.endswith(".css"))
    return "".join(map(short_style, sources))


def _found(config: MkDocsConfig) -> list[dict[str, Any]]:
    """The entries of the search so far; a new list where there is no search."""
    search = config.plugins.get("material/search")
    index = getattr(search, "search_index", None)
    return [] if index is None else index.entries


def _join(files: Files) -> None:
    """Put scripts that a page wants together into one file of the site."""
    for name, parts in _JOINED.items():
        given = [files.src_uris[part] for part in parts]
        files.src_uris[name].content_string = "".join(file.content_string for file in given)
        for file in given:
            if file.src_uri != name:
                files.remove(file)


def searched(html: str) -> str:
    """A page without what the search is to pass over, which its reader would read all the same, sign by sign.

    The elements stay, emptied. One with a heading in it, or with another one of its name, stays whole: whether the
    search passes over all of it is for the search to say.

    >>> searched('<p>a</p><figure data-search-exclude="yes"><b>b</b></figure>')
    '<p>a</p><figure data-search-exclude="yes"></figure>'
    """
    parts, at = [], 0
    for begin in _UNSEARCHED.finditer(html):
        name, inside = begin[1], begin.end()
        end = html.find(f"</{name}>", inside)
        if begin.start() < at or end < 0 or f"<{name}" in (inner := html[inside:end]) or _HEADING.search(inner):
            continue
        parts.append(html[at:inside])
        at = end
    return "".join([*parts, html[at:]])


def _log_findings(result: CheckResult) -> None:
    """Say what was found; what a draft still lacks keeps no strict build from being published."""
    drafts = {finding.place.file for finding in result.of_drafts}
    for finding in told(result.findings):
        at = finding.place
        where = f"{at.file}:{at.line}:{at.column}"
        say = log.info if at.file in drafts else log.warning
        say(f"{where}: {finding.severity}: {finding.message} [{finding.rule}]")


def _file(page: Page, written: Mapping[str, File], config: MkDocsConfig, in_nav: set[str], store: Store) -> File:
    """The page as a file of the site.

    Raises:
        PluginError: a written page stands in its place.
    """
    uri = f"{page.path}.md"
    file = File.generated(config, uri, content=_with_head(page))
    if other := written.get(file.dest_uri):
        raise PluginError(
            f"{other.abs_src_path}: the page “{page.title}” is made from the library and would replace this "
            "file; give the file another name"
        )
    file.edit_uri = page.source
    if uri not in in_nav:
        file.inclusion = InclusionLevel.NOT_IN_NAV
    if not page.markdown:
        _Made(page, file, config)
    elif uri not in in_nav:
        _Written(file, config, store)
    return file


def _head(page: Page) -> dict[str, Any]:
    """What the site's generator is told of a page.

    The theme escapes title and description; the search shows tags as they are, so they are escaped here.
    """
    tags = [escape(tag) for tag in page.tags]
    head: dict[str, Any] = {"title": page.title, "description": page.description, "tags": tags}
    if page.boost != 1:
        head["search"] = {"boost": page.boost} if page.boost else {"exclude": True}
    head |= {"assets": list(page.assets), "at_once": list(page.at_once), "inline": list(page.inline)}
    return {key: value for key, value in head.items() if value}


def _with_head(page: Page) -> str:
    """The page's text under its front matter. JSON is YAML, and quotes whatever a title holds."""
    lines = [f"{key}: {json.dumps(value, ensure_ascii=False)}" for key, value in _head(page).items()]
    return "\n".join(["---", *lines, "---", "", page.body, ""])


def _paths(nav: Any) -> list[str]:
    """All paths in a nav, however deep."""
    if isinstance(nav, str):
        return [nav]
    if isinstance(nav, dict):
        nav = list(nav.values())
    return [path for entry in nav or [] for path in _paths(entry)]
