"""A document in a reader's language: its kind, footer and page number from the texts of that language."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from lapel.assessment.inputs import Survey
from lapel.documents.blocks.model import Block, Document
from lapel.documents.blocks.telling import told_block
from lapel.documents.render import Picture
from lapel.documents.wording import Wording
from lapel.said import Tell


def worded_document(
    words: Wording,
    section: str,
    survey: Survey,
    blocks: Sequence[Block],
    *,
    days: str,
    dated: date | None,
    author: str = "",
    logo: Picture | None = None,
    is_dense: bool = False,
) -> Document:
    """
    Put blocks into a document, told in its language.

    Title, kind and the line under the title stand in that section of the texts, and a footer where it has its own.
    """
    return Document(
        title=words.say(f"{section}.title", survey=survey.title),
        kind=words.say(f"{section}.kind"),
        dated=dated or survey.assessed_on,
        blocks=tuple(told_block(block, words.told) for block in blocks),
        under=words.say(f"{section}.under", site=survey.site.name, days=days),
        language=words.language,
        footer=words.texts[section].get("footer", words.say("common.footer")),
        page_words=words.texts["common"]["page"],
        author=author,
        logo=logo,
        is_dense=is_dense,
    )


def told_everywhere(data: Any, tell: Tell) -> Any:
    """Tell every text in lists and mappings; pictures were told as they were drawn, keys stay."""
    match data:
        case str():
            return tell(data)
        case Mapping():
            return {key: told_everywhere(value, tell) for key, value in data.items()}
        case list() | tuple():
            return [told_everywhere(value, tell) for value in data]
        case _:
            return data
