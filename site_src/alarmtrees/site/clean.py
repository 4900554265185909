"""Takes out of an author's page, as it comes from Markdown, all mark-up that is not on a list.

Looking at what is written finds what one reader of Markdown would make of it; what the site's reader made of it is what
browsers get. So this looks there, with the same kind of parser that browsers have.
"""

from __future__ import annotations

import re
from collections import Counter

import nh3

_TEXT = (
    "p br hr h1 h2 h3 h4 h5 h6 ul ol li dl dt dd blockquote pre code em strong b i s q del ins sub sup small mark abbr"
)
_TABLE = "table caption colgroup col thead tbody tfoot tr th td"
_PARTS = "a img div span section nav figure figcaption details summary label input time kbd cite"
_DRAWN = "svg g path circle text"
_TAGS = {*_TEXT.split(), *_TABLE.split(), *_PARTS.split(), *_DRAWN.split()}

_ATTRIBUTES = {
    "*": {"id", "class", "title", "lang", "dir", "role", "hidden"},
    "a": {"href", "download"},
    "img": {"src", "alt", "width", "height", "loading"},
    "ol": {"start"},
    "details": {"open"},
    "time": {"datetime"},
    "input": {"checked", "disabled"},
    **{cell: {"scope", "colspan", "rowspan", "style"} for cell in ("th", "td")},
    "svg": {"viewBox", "width", "height"},
    "path": {"d"},
    "circle": {"cx", "cy", "r"},
    "text": {"x", "y", "dx", "dy", "text-anchor"},
}

_CLEANER = nh3.Cleaner(
    tags=_TAGS,
    clean_content_tags={"script", "style"},
    attributes=_ATTRIBUTES,
    tag_attribute_values={"input": {"type": {"checkbox"}}},
    generic_attribute_prefixes={"data-", "aria-"},
    filter_style_properties={"text-align"},
    url_schemes={"http", "https", "mailto", "tel"},
    link_rel=None,
)

_MARKS = re.compile(r"<[a-z][^\s/>]*|\s[a-z][a-z:-]*(?==)", re.IGNORECASE)


def clean(html: str) -> tuple[str, list[str]]:
    """A page with nothing in it but listed tags, attributes and kinds of addresses.

    Args:
        html: the content of a page, whoever wrote it.

    Returns:
        What may be shown, and names of what was left out: tags as `<script>`, attributes as `onclick`. An address that
        may not be followed counts as its attribute.
    """
    kept = _CLEANER.clean(html)
    lost = _marks(html) - _marks(kept)
    return kept, sorted(f"{mark}>" if mark.startswith("<") else mark for mark in lost)


def _marks(html: str) -> Counter[str]:
    return Counter(mark.strip().lower() for mark in _MARKS.findall(html))
