"""Open formats: a tree as other programs read it. One format a file, listed here."""

from __future__ import annotations

from .base import Format, Subject, open_subject
from .dot import DOT
from .fhir_plan import PLAN
from .fhir_questionnaire import QUESTIONNAIRE
from .json_tree import JSON
from .mermaid import MERMAID
from .scxml import SCXML

FORMATS: dict[str, Format] = {entry.name: entry for entry in (QUESTIONNAIRE, PLAN, SCXML, DOT, MERMAID, JSON)}
"""All formats by the name that `--to` takes."""

__all__ = ["FORMATS", "Format", "Subject", "export", "help_text", "open_subject"]


def export(subject: Subject, name: str) -> str:
    """A tree as the text of a file.

    Args:
        subject: the tree, from `open_subject`.
        name: a key of `FORMATS`.
    """
    entry = FORMATS[name]
    return entry.write(subject, entry.lost)


def help_text() -> str:
    """What the formats are and what each loses, for the terminal."""
    lines = ["formats, and what is lost in each:"]
    for entry in FORMATS.values():
        lines += [f"  {entry.name}: {entry.say}", *(f"    - {sentence}" for sentence in entry.lost)]
    lines.append("What a hospital keeps in kb/settings.local.yml is never exported.")
    return "\n".join(lines)
