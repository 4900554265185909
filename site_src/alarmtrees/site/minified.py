"""Scripts and styles as short as they can be: at night each kilobyte is a part of a second.

The minifier is a library whose wheels some machines lack; there pages carry the sources as they are, and do the same.
"""

from __future__ import annotations

try:
    import minify
except ImportError:
    minify = None
else:
    minify.config({"js-version": 2020})

MINIFIER = "tdewolff-minify"
"""The package whose version a kept page hangs on."""


def short_script(script: str) -> str:
    """A script that does the same, without comments, with short names for what no other script knows.

    Args:
        script: JavaScript of 2020, in a scope of its own.
    """
    return str(minify.string("application/javascript", script)) if minify else script


def short_style(style: str) -> str:
    """A style that looks the same, without comments and blanks."""
    return str(minify.string("text/css", style)) if minify else style
