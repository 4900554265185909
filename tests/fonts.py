"""The fonts that a browser under test finds: those of tests/package.json, whatever the machine has.

A reader's machine shows the site in a font of its own. What has room for a narrow and for a wide one has room for those
between.
"""

from __future__ import annotations

from pathlib import Path
from xml.sax.saxutils import escape

_MODULES = Path(__file__).parent / "node_modules"
# Plain and bold, as most machines have them: what is half bold is then shown bold, which is wider.
_FOLDERS = (
    *(
        _MODULES / "@expo-google-fonts" / family / weight
        for family in ("arimo", "roboto-condensed")
        for weight in ("400Regular", "400Regular_Italic", "700Bold")
    ),
    _MODULES / "dejavu-fonts-ttf" / "ttf",
)
_MONO = "DejaVu Sans Mono"

FAMILIES = {"narrow": "Roboto Condensed", "common": "Arimo", "wide": "DejaVu Sans"}
"""The family that stands for each kind of font; the common one has the measures of Arial."""

# The names by which a page asks for whatever the machine has, and one that the narrow family bears beside its own: all
# others are not found.
_ASKED = ("Arial", "Helvetica", "Roboto", "Times New Roman", "sans-serif", "serif", "system-ui")


def installed() -> bool:
    """Whether npm has brought the fonts."""
    return all(folder.is_dir() for folder in _FOLDERS)


def configured(folder: Path, kind: str) -> Path:
    """A configuration of fontconfig with which a program finds these fonts alone, and one family for every plain name.

    Args:
        folder: where it is written, and where fontconfig may keep what it has read.
        kind: a key of `FAMILIES`.
    """
    names = dict.fromkeys(_ASKED, FAMILIES[kind]) | {"monospace": _MONO}
    matches = "".join(
        f'<match target="pattern"><test name="family"><string>{name}</string></test>'
        f'<edit name="family" mode="assign" binding="strong"><string>{family}</string></edit></match>\n'
        for name, family in names.items()
    )
    folders = "".join(f"<dir>{escape(str(one))}</dir>\n" for one in _FOLDERS)
    path = folder / f"fonts-{kind}.conf"
    cache = f"<cachedir>{escape(str(folder / 'fonts-read'))}</cachedir>\n"
    # As most systems do: full hinting would round each letter's width to whole pixels.
    hints = '<match target="font"><edit name="hintstyle"><const>hintslight</const></edit></match>\n'
    text = f'<?xml version="1.0"?>\n<fontconfig>\n{folders}{cache}{matches}{hints}</fontconfig>\n'
    path.write_text(text, encoding="utf-8")
    return path
