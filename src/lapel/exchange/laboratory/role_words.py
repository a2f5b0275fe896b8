"""What a column may hold, and the words laboratories head it with, in several languages."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Literal, TypeAlias

Role: TypeAlias = Literal[
    "sampler", "laboratory number", "agent", "cas", "section", "front", "back", "mass", "result", "reporting limit",
    "detection limit", "qualifier", "sign", "unit", "recovery", "uncertainty", "volume", "concentration", "mole ratio",
    "medium", "remark", "analysed on", "sampled on", "received on", "minutes", "flow", "method", "kind of "
    "sample", "other",
]  # fmt: skip

VALUE_ROLES: frozenset[Role] = frozenset(
    (
        "front",
        "back",
        "mass",
        "result",
        "reporting limit",
        "detection limit",
        "recovery",
        "uncertainty",
        "volume",
        "concentration",
        "mole ratio",
    )
)
"""What holds a number, or a word in place of one."""

MEANINGS: Mapping[Role, str] = {
    "sampler": "the code of the sampler, as on its label",
    "laboratory number": "the laboratory's own number, not used",
    "agent": "the agent",
    "cas": "the agent's CAS number",
    "section": "front or back section",
    "front": "mass on the front section",
    "back": "mass on the back section",
    "mass": "whole mass on the sampler",
    "result": "a number whose kind its unit says, row by row",
    "reporting limit": "reporting limit, as a mass or as the unit says",
    "detection limit": "detection limit, not used as a reporting limit",
    "qualifier": "letters such as U or J for the result of the row",
    "sign": "“<” for the result of the row",
    "unit": "unit of the row's result",
    "recovery": "recovery or desorption efficiency",
    "uncertainty": "expanded relative uncertainty",
    "volume": "air volume the laboratory used",
    "concentration": "concentration the laboratory printed",
    "mole ratio": "mole ratio the laboratory printed",
    "medium": "medium the laboratory saw",
    "remark": "the laboratory's remark",
    "analysed on": "day of analysis",
    "sampled on": "day of sampling, not used",
    "received on": "day of receipt",
    "minutes": "sampled minutes, not used",
    "flow": "flow, not used",
    "method": "the laboratory's method, not used",
    "kind of sample": "sample, blank or quality control",
    "other": "not used",
}

_TOKEN = re.compile(r"[^\W_]+|#")
_CONNECTING = frozenset(
    [
        "of",
        "the",
        "on",
        "in",
        "per",
        "a",
        "de",
        "la",
        "le",
        "du",
        "des",
        "der",
        "die",
        "das",
        "fur",
        "for",
        "and",
        "und",
        "et",
        "y",
        "en",
        "am",
        "im",
        "el",
    ]
)


@lru_cache(maxsize=8192)
def plain_words(text: str) -> str:
    """Return a heading as plain words: lower case, accents off, marks away."""
    folded = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("µ", "u"))
    bare = "".join(letter for letter in folded if not unicodedata.combining(letter)).casefold()
    return " ".join(_TOKEN.findall(bare.replace("ö", "o").replace("-", " ")))


def _phrases() -> dict[str, Role]:
    listed = tomllib.loads(files(__package__).joinpath("heading_words.toml").read_text(encoding="utf-8"))
    found: dict[str, Role] = {}
    for role, phrases in listed.items():
        for phrase in phrases:
            found.setdefault(plain_words(phrase), role)  # type: ignore[arg-type]
    return found


_EXACT = _phrases()


@lru_cache(maxsize=8192)
def roles_of(heading: str) -> tuple[tuple[Role, float], ...]:
    """
    Say what a heading's words may mean.

    Parameters
    ----------
    heading : str
        Without its unit.

    Returns
    -------
    tuple of (Role, float)
        The likeliest first; 1 where the whole heading is a known phrase, less where it only contains one.
    """
    words = plain_words(heading)
    if not words:
        return ()
    if words in _EXACT:
        return ((_EXACT[words], 1.0),)
    tokens = words.split()
    significant = [token for token in tokens if token not in _CONNECTING] or tokens
    if " ".join(significant) in _EXACT:
        return ((_EXACT[" ".join(significant)], 0.97),)
    found: dict[Role, float] = {}
    for size in range(min(4, len(significant)), 0, -1):
        for start in range(len(significant) - size + 1):
            phrase = " ".join(significant[start : start + size])
            role = _EXACT.get(phrase)
            at_an_end = start == 0 or start + size == len(significant)
            if role is None or (len(phrase) < 3 and not (phrase in _SHORT and at_an_end)):
                continue
            share = size / len(significant)
            score = 0.45 + 0.45 * share + (0.03 if start + size == len(significant) else 0.0)
            if role == "other":
                score -= 0.1
            found[role] = max(found.get(role, 0.0), score)
    _specific_first(found)
    return tuple(sorted(found.items(), key=lambda item: -item[1]))


_VOCABULARY = frozenset(word for phrase in _EXACT for word in phrase.split()) | _CONNECTING


def only_role_words(text: str) -> bool:
    """Whether a text has no word beyond those that head columns: “front mass”, not “ethyl”."""
    return all(word in _VOCABULARY or word.isdigit() for word in plain_words(text).split())


_SHORT = frozenset(("rl", "bg", "lq", "dl", "de"))
"""Abbreviations that say what a column holds also beside the name of an agent."""


def foreign_words(text: str) -> str:
    """Return the words of a heading that head no column: the name of an agent, most likely."""
    return " ".join(word for word in plain_words(text).split() if word not in _VOCABULARY and not word.isdigit())


def _specific_first(found: dict[Role, float]) -> None:
    """“Front result” is a front mass and “sample volume” a volume: the narrower word says what a column is."""
    narrow: tuple[Role, ...] = (
        "reporting limit", "detection limit", "recovery", "uncertainty", "back", "front", "volume", "qualifier", "unit",
        "analysed on", "sampled on", "received on", "medium", "cas", "section", "laboratory number", "concentration",
        "mole ratio", "minutes", "flow", "method", "remark", "kind of sample",
    )  # fmt: skip
    broad: tuple[Role, ...] = ("sampler", "mass", "result", "agent", "other")
    best = next((role for role in narrow if role in found), None)
    if best is not None and any(role in found for role in broad):
        found[best] = max(found[best], 0.05 + max(found[role] for role in broad if role in found))
        found[best] = min(found[best], 0.95)
    elif best is not None:
        found[best] = min(0.95, found[best] + 0.05)


SECTION_WORDS: Mapping[str, Literal["front", "back"]] = {
    **dict.fromkeys(
        ("front", "f", "front section", "fs", "primary", "main", "hauptschicht", "sammelschicht", "avant",
         "frontal",
         "zone avant", "measure", "front half", "frt", "vorne", "sample layer"), "front"),
    **dict.fromkeys(
        ("back", "b", "back section", "bs", "rear", "backup", "back up", "bu", "kontrollschicht", "sicherungsschicht",
         "arriere", "trasera", "zone arriere", "control", "back half", "bck", "hinten", "r", "bk"), "back"),
}  # fmt: skip
UNSURE_SECTIONS: Mapping[str, Literal["front", "back"]] = {
    "a": "front", "1": "front", "i": "front", "2": "back", "ii": "back",
}  # fmt: skip
"""Marks that stand for sections only if a person says so: “A” and “B” are ports, duplicates or sections."""

TOTAL_WORDS = frozenset(
    (
        "total", "totals", "sum", "summe", "gesamt", "mean", "average", "mittelwert", "moyenne", "somme", "median",
        "min", "max", "minimum", "maximum", "count", "std", "sd", "standard deviation", "std dev", "rsd", "range",
        "promedio", "subtotal", "sub total", "grand total", "number of samples",
    )
)  # fmt: skip
QUALITY_WORDS = re.compile(
    r"\b(lcs|lcsd|method blank|reagent blank|lab(oratory)? blank|media blank|matrix spike|spike[ds]?|ms|msd|ccv|"
    r"icv|ccb|icb|control|qc|quality control|calibration|standard|duplicate|dup|recovery check|solvent blank|blindwert|"
    r"kontrolle|kontrollprobe|reagenzienblindwert|blanc labo|temoin|check standard|reference material|crm)\b",
    re.IGNORECASE,
)
"""Names of the laboratory's own quality control."""
