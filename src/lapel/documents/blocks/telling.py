"""Blocks in a reader's language: every text of ours told, whatever a person wrote left as it is."""

from __future__ import annotations

from dataclasses import replace

from lapel.documents.blocks.model import (
    Block,
    Bullets,
    Drawn,
    Facts,
    Heading,
    NewPage,
    Paragraph,
    SignatureLines,
    Table,
    VerdictLine,
)
from lapel.said import Tell


def told_block(block: Block, tell: Tell) -> Block:
    """Tell every text of a block; a picture was told as it was drawn."""
    match block:
        case Heading() | Paragraph():
            return replace(block, text=tell(block.text))
        case Bullets():
            return replace(block, items=tuple(map(tell, block.items)))
        case Facts():
            return Facts(tuple((tell(name), tell(text)) for name, text in block.rows))
        case Table():
            rows = tuple(tuple(map(tell, row)) for row in block.rows)
            return replace(block, head=tuple(map(tell, block.head)), rows=rows, caption=tell(block.caption))
        case Drawn():
            return replace(block, caption=tell(block.caption))
        case VerdictLine():
            return replace(block, word=tell(block.word), text=tell(block.text))
        case SignatureLines():
            return SignatureLines(tuple(map(tell, block.labels)))
        case NewPage():
            return block
