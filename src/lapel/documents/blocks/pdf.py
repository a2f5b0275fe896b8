"""Blocks as PDF: one template arranges them all."""

from __future__ import annotations

from typing import Any

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
from lapel.documents.render import rendered


def document_as_pdf(document: Document) -> bytes:
    """Set a document as PDF/UA-1 and PDF/A-2a."""
    return rendered(
        "blocks",
        {
            "kind": document.kind,
            "under": document.under,
            "lang": document.language,
            "footer": document.footer,
            "page_words": document.page_words,
            "logo": document.logo,
            "dense": document.is_dense,
            "blocks": [_block(block) for block in document.blocks],
        },
        title=document.title,
        dated=document.dated,
    )


def _block(block: Block) -> dict[str, Any]:
    match block:
        case Heading(text=text, level=level):
            return {"is": "heading", "text": text, "level": str(level)}
        case Paragraph(text=text, tone=tone):
            return {"is": "paragraph", "text": text, "tone": tone}
        case Bullets(items=items, numbered=numbered):
            return {"is": "bullets", "items": list(items), "numbered": numbered}
        case Facts(rows=rows):
            return {"is": "facts", "rows": [list(row) for row in rows]}
        case Table():
            return {
                "is": "table",
                "head": list(block.head),
                "rows": [list(row) for row in block.rows],
                "widths": [f"{width:g}" for width in block.widths],
                "right": [column in block.right for column in range(len(block.head))],
                "caption": block.caption,
            }
        case Drawn(picture=picture, caption=caption):
            return {"is": "picture", "picture": picture, "caption": caption}
        case VerdictLine(verdict=verdict, word=word, text=text, leads=leads):
            return {"is": "verdict", "verdict": verdict, "word": word, "text": text, "leads": leads}
        case SignatureLines(labels=labels):
            return {"is": "signatures", "labels": list(labels)}
        case NewPage():
            return {"is": "page"}
