"""What an author writes stands on a page as mark-up only where it is on the list, however it was put."""

from __future__ import annotations

import re
import subprocess
import sys
from base64 import b64encode
from collections.abc import Callable
from hashlib import sha256
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import pytest

from alarmtrees.site.clean import clean
from alarmtrees.site.policy import policy

Run = Callable[..., subprocess.CompletedProcess[str]]

TRICKS = r"""# Notes

A tick that is none: \`<img src=x onerror="hit()">\` and \`[b](about.md){ onclick="hit()" }\`

> [a]: javascript:hit()

[this][a] and [that](data:text/html,hit) and <a href="java&#115;cript:hit()">there</a>

<script>hit()</script><iframe src="//a.example"></iframe><svg onload="hit()"><use href="//a.example"/></svg>

<form action="//a.example"><button>Send</button></form><base href="//a.example"><meta http-equiv="refresh">

A paragraph { style="position:fixed" }
{ style="position:fixed" onmouseover="hit()" }

``` { .x onmouseover="hit()" style="position:fixed" }
code
```

| right |
|------:|
| 1     |

~~~
<img src=x onerror="hit()">
"""


class Marks(HTMLParser):
    """All tags and attributes, as a reader that is not the cleaner's sees them."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def is_harmless(html: str) -> bool:
    for tag, attributes in Marks(html).found:
        if tag in ("script", "iframe", "object", "embed", "form", "button", "base", "meta", "link", "style", "use"):
            return False
        for name, value in attributes.items():
            flat = re.sub(r"[\x00-\x20]", "", unescape(value or "")).lower()
            if name.startswith("on") or flat.startswith(("javascript:", "data:", "vbscript:")):
                return False
            if name == "style" and not flat.startswith("text-align"):
                return False
    return True


@pytest.mark.parametrize(
    ("html", "lost"),
    [
        ('<p><img src="x" onerror="hit()"></p>', ["onerror"]),
        ("<script>hit()</script>", ["<script>"]),
        ('<a href="java&#10;script:hit()">a</a>', ["href"]),
        ('<a href="JaVaScRiPt:hit()">a</a>', ["href"]),
        ('<a href="data:text/html,a">a</a>', ["href"]),
        ("<svg><script>hit()</script></svg>", ["<script>"]),
        ('<svg><a href="javascript:hit()"><text>a</text></a></svg>', ["href"]),
        ('<svg><animate attributeName="href" to="javascript:hit()"/></svg>', ["<animate>", "attributename", "to"]),
        ('<math><mi><style><img src=x onerror="hit()"></style></mi></math>', ["<math>", "<mi>", "<style>", "onerror"]),
        ('<code class="x" onmouseover="hit()" style="position:fixed">a</code>', ["onmouseover", "style"]),
        ('<iframe src="//other.example"></iframe>', ["<iframe>", "src"]),
        ('<input type="password">', ["type"]),
        ("<details ontoggle=hit() open>a</details>", ["ontoggle"]),
        ('<noscript><p title="</noscript><img src=x onerror=hit()>"></noscript>', ["<noscript>"]),
        ('<!--><img src=x onerror="hit()">-->', ["onerror"]),
    ],
)
def test_what_is_not_listed_goes_and_is_named(html: str, lost: list[str]) -> None:
    kept, named = clean(html)
    assert is_harmless(kept)
    assert set(lost) <= set(named)
    assert clean(kept) == (kept, []), "what is clean stays as it is"


@pytest.mark.parametrize(
    "html",
    [
        '<p id="a" class="b" data-c="d" aria-label="e">1 &lt; 2 &amp; 3\u00a0é</p>',
        '<a href="about.html#x">a</a><a href="https://doi.org/1">b</a><a href="tel:5">c</a><a href="d" download>d</a>',
        '<table><tbody><tr><th scope="row">a</th><td style="text-align:right">b</td></tr></tbody></table>',
        '<label class="tick"><input type="checkbox"> <span>a</span></label>',
        '<svg viewBox="0 0 9 9" width="9" height="9" role="img" aria-label="a"><g><path d="M0 0h9"></path></g></svg>',
        '<svg><circle cx="1" cy="1" r="1"></circle><text x="1" y="1" dy=".36em" text-anchor="end">a</text></svg>',
        '<ol start="3"><li>a</li></ol><img src="a.png" alt="b" width="9"><hr><details><summary>a</summary></details>',
    ],
)
def test_what_pages_are_made_of_stays(html: str) -> None:
    kept, lost = clean(html)
    assert lost == [] and Marks(kept).found == [(t, {k: v or "" for k, v in a.items()}) for t, a in Marks(html).found]


def test_page_of_tricks_is_published_without_them_and_each_build_says_so(small_library: Path, mkdocs: Run) -> None:
    head = '---\ntitle: "<b>x"\nassets: [\'x.js"></script><script>hit()</script>.js\']\nat_once: [x.js]\n'
    head += "inline: ['hit()']\ntemplate: 404.html\ntags: ['<img src=x onerror=hit()>']\n---\n"
    (small_library / "kb" / "notes.md").write_text(head + TRICKS, encoding="utf-8")
    for _ in range(2):  # the second time the page is kept
        done = mkdocs(small_library, "build")
        assert done.returncode == 0, done.stderr
        (said,) = [line for line in done.stderr.splitlines() if "left out of the page" in line]
        assert "notes.md" in said and "onerror" in said and "<script>" in said and "href" in said
        html = (small_library / "site" / "notes.html").read_text(encoding="utf-8")
        content = html[html.index('<article class="page"') : html.index("</article>")]
        assert is_harmless(content) and "<h1" in content and "text-align:right" in content
        assert "x.js" not in html and "<title>&lt;b&gt;x" in html and 'class="foot"' in html
        allowed(html)
        index = (small_library / "site" / "search" / "search_index.json").read_text(encoding="utf-8")
        assert "onerror=hit()" not in index and "<img" not in index


UNCHECKED = """
from dataclasses import replace
from mkdocs.__main__ import cli
from alarmtrees.site import plugin
check = plugin.check_library
plugin.check_library = lambda *given: replace(check(*given), findings=())
cli(["build"])
"""
"""A build to which the check has nothing to say: the one wall is tried without the other."""


def test_article_of_tricks_is_published_without_them(small_library: Path) -> None:
    article = small_library / "kb" / "plugging-in.md"
    text = article.read_text(encoding="utf-8")
    article.write_text(text.replace("\n## Why\n", f"\n## Why\n\n{TRICKS}\n"), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", UNCHECKED], cwd=small_library, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "plugging-in.md: left out of the page" in done.stderr
    html = (small_library / "site" / "plugging-in.html").read_text(encoding="utf-8")
    content = html[html.index('<article class="page"') : html.index("</article>")]
    assert is_harmless(content) and "A tick that is none" in content and 'class="tick"' in content


# ---- the policy of a page


def allowed(html: str) -> set[str]:
    """The scripts that stand in a page; each is one that its policy names, and it names none by looking at the page."""
    head, _, rest = html.partition('<meta http-equiv="Content-Security-Policy" content="')
    assert "<script" not in head and "<link" not in head and "<style" not in head
    rules = rest.partition('"')[0]
    assert "default-src 'none'" in rules and "unsafe" not in rules.replace("style-src 'self' file: 'unsafe-inline'", "")
    inside = re.findall(r"<script(?![^>]*(?:src=|application/json))[^>]*>(.*?)</script>", html, re.DOTALL)
    for script in inside:
        assert f"'sha256-{b64encode(sha256(script.encode()).digest()).decode()}'" in rules, script[:80]
    return set(inside)


def test_every_page_names_its_scripts_and_no_other_may_run(small_library: Path, mkdocs: Run) -> None:
    assert mkdocs(small_library, "build").returncode == 0
    pages = sorted((small_library / "site").rglob("*.html"))
    kinds = [allowed(path.read_text(encoding="utf-8")) for path in pages]
    assert len(pages) > 60 and all(kinds)
    assert len(set().union(*kinds)) <= 8, "they are the same on all pages, but for a calculator's formula"
    for path in pages:
        assert not re.search(
            r"<[^>]*\son[a-z]+\s*=", re.sub(r"<script.*?</script>", "", path.read_text("utf-8"), flags=re.DOTALL)
        )


def test_policy_holds_no_sign_that_would_end_its_attribute() -> None:
    assert '"' not in policy(['a"b', ""]) and policy([""]) == policy([])
