"""What a page may do, said to the browser on the page itself: should mark-up slip through, no script of it runs.

A policy in the head of a page holds from a server, from a folder and without a network alike.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from hashlib import sha256

# From a folder, not all browsers count the files beside a page as its own. A page of a server can open none of them.
_OWN = "'self' file:"


def policy(scripts: Iterable[str]) -> str:
    """The Content-Security-Policy of a page, fit for an attribute in double quotes.

    Files of the site may be used, and of scripts in the page only those that are named here, whole. Styles may stand in
    the page, for each has its own, before its first paint; a style alone runs nothing and can ask nobody else.

    Args:
        scripts: what stands in the page between `<script>` and `</script>`, by who makes the page; empty ones are
            passed over. Never what was found in a page: that would allow just what the policy is there to stop.

    >>> policy(["alert(1)"]).split("; ")[1]
    "script-src 'self' file: 'sha256-bhHHL3z2vDgxUt0W3dWQOrprscmda2Y5pLsLg4GF+pI='"
    """
    hashes = [f" 'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'" for text in scripts if text]
    rules = (
        "default-src 'none'",
        f"script-src {_OWN}{''.join(hashes)}",
        f"style-src {_OWN} 'unsafe-inline'",
        f"img-src {_OWN} data:",
        *(f"{what}-src {_OWN}" for what in ("connect", "font", "manifest", "worker")),
        f"base-uri {_OWN}",
        f"form-action {_OWN}",
    )
    return "; ".join(rules)
