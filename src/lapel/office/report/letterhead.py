"""A site's letterhead as documents take it: its logo, and its own texts in place of the packaged ones."""

from __future__ import annotations

import logging
from functools import lru_cache
from typing import Any

from lapel.documents.logo import UnusableLogo, logo_of
from lapel.documents.render import Picture
from lapel.documents.wording import LANGUAGES, UnusableWording, Wording, with_own, wording
from lapel.records.models import Letterhead, Site

LOG = logging.getLogger(__name__)

LANGUAGE_NAMES = {"en": "English", "es": "Español"}
SECTIONS = {
    "report": "Survey report",
    "client": "Summary of one page",
    "letter": "Letters to workers",
    "posting": "Posted lists",
    "record": "Calculation record",
    "common": "In every document",
}
"""Sections of the texts, as their pages call them."""


def letterhead_of(site: Site) -> Letterhead:
    """Return the letterhead of a site; a new one where it has none."""
    return Letterhead.objects.filter(site=site).first() or Letterhead(site=site)


def logo_of_site(site: Site) -> Picture | None:
    """Return the logo of a site; None where it has none."""
    kept = letterhead_of(site)
    return None if kept.logo is None else _drawn(bytes(kept.logo), kept.firm)


@lru_cache(maxsize=16)
def _drawn(content: bytes, firm: str) -> Picture | None:
    try:
        return logo_of(content, where="the site's logo", firm=firm)
    except UnusableLogo:  # it was drawn when it was kept, by an earlier version perhaps: a report need not wait for it
        LOG.exception("a logo that was kept cannot be drawn; documents are made without it")
        return None


def words_of_site(site: Site, language: str) -> Wording:
    """Give the texts of a language in a site's own words; in English for a language that is not there."""
    language = language if language in LANGUAGES else LANGUAGES[0]
    own = letterhead_of(site).words.get(language, {})
    try:
        return with_own(wording(language), own, where="the site's own words")
    except UnusableWording:  # a text of an earlier version that no place reads any more: the packaged ones hold
        return with_own(wording(language), _still_read(language, own), where="the site's own words")


def _still_read(language: str, own: dict[str, dict[str, str]]) -> dict[str, dict[str, str]]:
    kept: dict[str, dict[str, str]] = {}
    for section, rows in own.items():
        for key, text in rows.items():
            try:
                with_own(wording(language), {section: {key: text}}, where="")
            except UnusableWording:
                continue
            kept.setdefault(section, {})[key] = text
    return kept


def changed_words(kept: dict[str, Any], language: str, section: str, given: dict[str, str]) -> dict[str, Any]:
    """Return all own words of a site with one section of one language given anew; an empty text is the packaged one."""
    rows = {key: text for key, text in given.items() if text}
    of_language = {name: texts for name, texts in kept.get(language, {}).items() if name != section}
    if rows:
        of_language[section] = rows
    others = {name: texts for name, texts in kept.items() if name != language}
    return {**others, language: of_language} if of_language else others
