"""All questions and answers as a package for programs that ask them elsewhere: 1EdTech QTI 3.0.

A content package in the form of that standard: `imsmanifest.xml`, and one item a question with one choice to make. Each
answer has its reason as feedback, which is shown once the answer was given; the right one scores 1 of 1, any other 0.
Only elements of the standard. The same questions give the same file, byte for byte.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Iterator
from xml.sax.saxutils import escape, quoteattr
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from ..model import Library
from ..model.wording import fill
from .draw import Draw, seed_of
from .questions_csv import Asked, plain, row

FILE = "questions-qti.zip"
"""The name of the package in the site."""

ITEMS = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0"
PACKAGE = "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"

_MATCH = '<qti-match><qti-variable identifier="RESPONSE"/><qti-correct identifier="RESPONSE"/></qti-match>'
_ILLEGAL = re.compile("[^\\t\\n\\r\\x20-\\ud7ff\\ue000-\\ufffd\\U00010000-\\U0010ffff]")
_LONG_AGO = (1980, 1, 1, 0, 0, 0)  # no day of the build: the same questions give the same file


def questions_qti(library: Library, asked: Iterable[Asked]) -> bytes:
    """The package of questions, with the values of this library's settings.

    Args:
        library: without errors.
        asked: its questions, in the order of the items.
    """
    questions = list(asked)
    held = io.BytesIO()
    with ZipFile(held, "w") as package:
        _put(package, "imsmanifest.xml", manifest(library, questions))
        for question in questions:
            _put(package, _path(question), item(library, question))
    return held.getvalue()


def _put(package: ZipFile, name: str, lines: Iterable[str]) -> None:
    entry = ZipInfo(name, _LONG_AGO)
    entry.compress_type = ZIP_DEFLATED
    package.writestr(entry, "\n".join(lines) + "\n")


def identifier(question: Asked) -> str:
    """A name that the standard takes for an identifier: it begins with a letter, and holds no slash.

    >>> from types import SimpleNamespace
    >>> identifier(SimpleNamespace(id="limb-cold/which-limb/2"))
    'q-limb-cold.which-limb.2'
    """
    return f"q-{question.id.replace('/', '.')}"


def _path(question: Asked) -> str:
    return f"items/{identifier(question)}.xml"


def manifest(library: Library, questions: Iterable[Asked]) -> Iterator[str]:
    """What is in the package."""
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield f'<manifest xmlns="{PACKAGE}" identifier="alarmtrees-questions">'
    yield "  <metadata>"
    yield "    <schema>QTI Package</schema>"
    yield "    <schemaversion>3.0.0</schemaversion>"
    yield "  </metadata>"
    yield "  <organizations/>"
    yield "  <resources>"
    for question in questions:
        path = quoteattr(_path(question))
        yield f'    <resource identifier={quoteattr(identifier(question))} type="imsqti_item_xmlv3p0" href={path}>'
        yield f"      <file href={path}/>"
        yield "    </resource>"
    yield "  </resources>"
    yield "</manifest>"


def item(library: Library, question: Asked) -> Iterator[str]:
    """One question. Its answers stand in a drawn order, for a program may not mix them."""
    mixed = Draw(seed_of(question.id)).shuffled(question.choices)
    shown = [(f"A{number}", *choice) for number, choice in enumerate(mixed, start=1)]
    right = next(name for name, _, is_right, _ in shown if is_right)
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield (
        f'<qti-assessment-item xmlns="{ITEMS}" identifier={quoteattr(identifier(question))} '
        f'title={quoteattr(_title(library, question))} adaptive="false" time-dependent="false" xml:lang="en">'
    )
    yield '  <qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier">'
    yield f"    <qti-correct-response><qti-value>{right}</qti-value></qti-correct-response>"
    yield "  </qti-response-declaration>"
    # A program that is not told the highest score says "1 of 0".
    for name, value, limits in (("SCORE", 0, ' normal-maximum="1" normal-minimum="0"'), ("MAXSCORE", 1, "")):
        yield f'  <qti-outcome-declaration identifier="{name}" cardinality="single" base-type="float"{limits}>'
        yield f"    <qti-default-value><qti-value>{value}</qti-value></qti-default-value>"
        yield "  </qti-outcome-declaration>"
    yield '  <qti-outcome-declaration identifier="FEEDBACK" cardinality="single" base-type="identifier"/>'
    yield "  <qti-item-body>"
    yield '    <qti-choice-interaction response-identifier="RESPONSE" shuffle="true" max-choices="1">'
    yield f"      <qti-prompt>{_said(library, question.ask)}</qti-prompt>"
    for name, say, _, _ in shown:
        yield f'      <qti-simple-choice identifier="{name}">{_said(library, say)}</qti-simple-choice>'
    yield "    </qti-choice-interaction>"
    yield "  </qti-item-body>"
    yield from _processing()
    for name, _, is_right, why in shown:
        lead = "Right." if is_right else "Not so."
        yield f'  <qti-modal-feedback outcome-identifier="FEEDBACK" identifier="{name}" show-hide="show">'
        yield f"    <qti-content-body><p>{lead} {_said(library, why)}</p></qti-content-body>"
        yield "  </qti-modal-feedback>"
    yield "</qti-assessment-item>"


def _processing() -> Iterator[str]:
    """The right answer scores 1; the feedback is that of the answer given."""
    yield "  <qti-response-processing>"
    yield "    <qti-response-condition>"
    for when, score in ((f"<qti-response-if>{_MATCH}", 1), ("<qti-response-else>", 0)):
        set_score = f'<qti-base-value base-type="float">{score}</qti-base-value>'
        end = "</qti-response-if>" if score else "</qti-response-else>"
        yield f'      {when}<qti-set-outcome-value identifier="SCORE">{set_score}</qti-set-outcome-value>{end}'
    yield "    </qti-response-condition>"
    yield (
        '    <qti-set-outcome-value identifier="FEEDBACK"><qti-variable identifier="RESPONSE"/></qti-set-outcome-value>'
    )
    yield "  </qti-response-processing>"


def _title(library: Library, question: Asked) -> str:
    """What it is about, with the stamp of that content: the same version, the same question."""
    tree = library.trees.get(question.about) if question.about_kind == "tree" else None
    article = library.articles.get(question.about)
    about = fill(tree.title, library.settings) if tree else article.title if article else question.about
    return _legal(f"{about} ({row(library, question)[-1]})")


def _said(library: Library, text: str) -> str:
    return escape(_legal(plain(library, text)))


def _legal(text: str) -> str:
    """Without the signs that XML does not allow."""
    return _ILLEGAL.sub("", text)
