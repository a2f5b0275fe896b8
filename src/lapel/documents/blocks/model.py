"""The blocks a document is made of: texts only, every number rounded before it comes here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

from lapel.assessment.results import Verdict
from lapel.documents.render import Picture

Tone: TypeAlias = Literal["plain", "lead", "strong", "caution", "quiet"]
"""How a paragraph speaks: running text, explanation under a heading, the main thing, a warning, a note."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading of level 1, 2 or 3."""

    text: str
    level: int = 1


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; numbered where the order matters."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a name and a text."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """
    A table with a head.

    Attributes
    ----------
    widths : tuple of float
        Share of the width of each column.
    right : frozenset of int
        Columns of numbers.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]
    right: frozenset[int] = frozenset()
    caption: str = ""

    def __post_init__(self) -> None:
        wide = {len(self.head), len(self.widths), *(len(row) for row in self.rows)}
        if len(wide) != 1:
            raise ValueError(f"every row, the head and the widths must have as many cells; found {sorted(wide)}")


@dataclass(frozen=True, slots=True)
class Drawn:
    """A picture with its caption; its words are its alternative text."""

    picture: Picture
    caption: str = ""


@dataclass(frozen=True, slots=True)
class VerdictLine:
    """
    A verdict with its mark, and the sentence it stands for.

    `word` is what the reader sees on the mark; `leads` where it stands with what follows, on one page.
    """

    verdict: Verdict
    word: str
    text: str
    leads: bool = False


@dataclass(frozen=True, slots=True)
class SignatureLines:
    """Lines to sign on, each with what belongs there."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NewPage:
    """What follows begins on a new page."""


Block: TypeAlias = Heading | Paragraph | Bullets | Facts | Table | Drawn | VerdictLine | SignatureLines | NewPage


@dataclass(frozen=True, slots=True)
class Document:
    """
    A whole document.

    Attributes
    ----------
    title, under : str
        Title, and a line under it.
    kind : str
        What sort of document it is, for the top of every page.
    language : str
        As in “en” or “es”.
    dated : date
        Date in its properties: the same input gives the same bytes.
    footer, page_words : str
        Words at the foot of every page; the page number with “{page}” and “{pages}” in it.
    author : str
        For its properties.
    logo : Picture or None
        The firm's own, at the top of the first page.
    is_dense : bool
        Whether headings take little room, as in a letter of one page.
    """

    title: str
    kind: str
    dated: date
    blocks: tuple[Block, ...]
    under: str = ""
    language: str = "en"
    footer: str = "Confirm every limit with its authority before acting."
    page_words: str = "Page {page} of {pages}"
    author: str = ""
    logo: Picture | None = None
    is_dense: bool = False

    def texts(self) -> Iterator[str]:
        """Every text of the document, in order, as both forms must hold them."""
        yield self.title
        if self.under:
            yield self.under
        for block in self.blocks:
            yield from _texts(block)


def _texts(block: Block) -> Iterator[str]:
    match block:
        case Heading(text=text) | Paragraph(text=text):
            yield text
        case Bullets(items=items):
            yield from items
        case Facts(rows=rows):
            for name, words in rows:
                yield name
                yield words
        case Table(head=head, rows=rows, caption=caption):
            if caption:
                yield caption
            yield from head
            for row in rows:
                yield from row
        case Drawn(caption=caption):
            if caption:
                yield caption
        case VerdictLine(word=word, text=text):
            yield word
            yield text
        case SignatureLines(labels=labels):
            yield from labels
        case NewPage():
            return
