"""
Documents in blocks: composed once, set as PDF and written as DOCX from the same texts.

What stands in one stands in the other, digit for digit, because neither computes or rounds.
"""

from __future__ import annotations

from lapel.documents.blocks.model import (
    Block,
    Bullets,
    Document,
    Drawn,
    Facts,
    Heading,
    NewPage,
    Paragraph,
    SignatureLines,
    Table,
    VerdictLine,
)
from lapel.documents.blocks.pdf import document_as_pdf
from lapel.documents.blocks.word import document_as_docx

__all__ = [
    "Block",
    "Bullets",
    "Document",
    "Drawn",
    "Facts",
    "Heading",
    "NewPage",
    "Paragraph",
    "SignatureLines",
    "Table",
    "VerdictLine",
    "document_as_docx",
    "document_as_pdf",
]
