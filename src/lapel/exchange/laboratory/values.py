"""
One cell of results: a number, how it is meant, its unit, and the laboratory's marks beside it.

Words and letters have the meaning the trade gives them (“<”, ND, U, J, B). A word nobody has explained is a doubt.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal, TypeAlias

from lapel.exchange.laboratory.numbers import LOOKS_LIKE_NUMBER, Doubtful, Marks, number
from lapel.exchange.laboratory.sheets import Cell, shown
from lapel.exchange.laboratory.unit_words import known_unit
from lapel.exchange.survey_folder.delivered import CellFault

Sense: TypeAlias = Literal["exactly", "below", "above", "not detected", "trace", "not analysed", "absent"]

NOT_DETECTED = (
    "nd", "n.d.", "n.d", "not detected", "none detected", "nondetect", "non-detect", "non detect", "bdl", "bql", "bloq",
    "below detection limit", "below reporting limit", "below limit", "<lod", "<loq", "<rl", "<mdl", "<mrl", "<pql",
    "<dl",
    "<ql", "<bg", "<ng", "<nwg", "<lq", "<ld", "u", "n.n.", "nn", "nicht nachweisbar", "nicht nachgewiesen", "n.b.",
    "nicht bestimmbar", "non détecté", "non detecte", "non détectée", "no detectado", "non rilevato",
)  # fmt: skip
NOT_ANALYSED = (
    "not analysed", "not analyzed", "nicht analysiert", "non analysé", "no analizado", "void", "lost", "broken",
    "not received", "not requested", "sample broken", "sample lost", "no sample", "zerbrochen", "nr",
)  # fmt: skip
ABSENT = ("", "-", "--", "---", "–", "—", "n/a", ".", "..", "…", "/", "''", "nil return")
TRACE = ("trace", "tr", "tr.", "spuren", "traces")
FLAG_MEANINGS: Mapping[str, str] = {
    "U": "not detected; the number beside it is the limit",
    "J": "detected, but an estimate",
    "UJ": "not detected; the limit is an estimate",
    "B": "also found in the laboratory's blank",
    "E": "above the calibrated range: an estimate",
    "D": "from a dilution",
    "H": "analysed after the holding time",
    "N": "identified tentatively",
    "R": "rejected by the laboratory",
    "*": "with a footnote",
    "†": "with a footnote",
    "‡": "with a footnote",
    "#": "with a footnote",
}
"""Letters beside a number, by the use of public quality guides for laboratories (US EPA functional guidelines)."""
BELOW_FLAGS = frozenset({"U", "UJ"})

LOOKS_LIKE_NUMBER_FIRST = re.compile(
    rf"(?:[A-Za-z.]{{0,4}}\s?\(?)?\s*(?:[<>≤≥]=?)?\s*({LOOKS_LIKE_NUMBER.pattern})", re.DOTALL
)
"""A cell that begins with a number, or with a sign or word and then a number."""

_FLAG = r"(?:UJ|JB|BJ|JE|EJ|UB|[UJBEDHNR]|[*†‡#]{1,3})"
_CELL = re.compile(
    rf"(?P<words>(?:nd|n\.d\.|n\.n\.|not detected|<?\s?(?:lod|loq|rl|mdl|mrl|pql|bg|nwg))\s*[:(=,]?\s*)?"
    rf"(?P<sign><\s?=|>\s?=|[<>≤≥˂˃＜＞]|less than|kleiner|unter|inf\.?|below|more than)?\s*"
    rf"(?P<number>{LOOKS_LIKE_NUMBER.pattern})"
    rf"(?P<rest>.*)",
    re.IGNORECASE | re.DOTALL,
)
_SIGNS: Mapping[str, Sense] = {
    "<": "below", "≤": "below", "<=": "below", "˂": "below", "＜": "below", "less than": "below", "kleiner": "below",
    "unter": "below", "inf": "below", "inf.": "below", "below": "below",
    ">": "above", "≥": "above", ">=": "above", "˃": "above", "＞": "above", "more than": "above",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Value:
    """
    What one cell says.

    Attributes
    ----------
    number : Decimal or None
        As written; None for a word.
    sense : Sense
        “below” and “above” bound by the number; “not detected” stands for the limit of its row.
    unit : str
        Written in the cell itself; empty where it stands elsewhere.
    flags : tuple of str
        Letters and marks beside the number.
    """

    number: Decimal | None
    sense: Sense
    unit: str = ""
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Doubt:
    """A cell that may mean several things: what is asked, and the answers there are."""

    kind: Literal["number", "word", "cell"]
    text: str
    asks: str
    choices: tuple[str, ...] = ()


WordMeanings: TypeAlias = Mapping[str, Sense]


def value_of(cell: Cell, marks: Marks, words: WordMeanings) -> Value | Doubt:
    """
    Read one cell of results.

    Parameters
    ----------
    cell : Cell
        As it came.
    marks : Marks
        Of the numbers of its sheet.
    words : mapping of str to Sense
        What a person has said of words that are not the trade's, in lower case.
    """
    if isinstance(cell, CellFault):
        return Doubt("cell", cell.found, f"The cell holds {cell.found}. {cell.remedy}")
    if isinstance(cell, date):
        turned = "Spreadsheets turn numbers such as 1-2 into days. Ask the laboratory what was written."
        return Doubt("cell", shown(cell), f"The cell holds the day {shown(cell)} where a number is wanted. {turned}")
    if not isinstance(cell, str):
        return Value(Decimal(repr(cell)), "exactly")
    word = _word_sense(cell, words)
    if word is not None:
        return Value(None, word)
    match = _CELL.fullmatch(cell.strip())
    if match is None:
        return _unknown_word(cell)
    return _numbered(cell, match, marks)


def _word_sense(cell: str, words: WordMeanings) -> Sense | None:
    plain = " ".join(cell.split()).casefold()
    told = words.get(plain)
    if told is not None:
        return told
    tight = plain.replace(" ", "") if plain.startswith("<") else plain
    if plain in ABSENT:
        return "absent"
    if tight in NOT_DETECTED or plain in NOT_DETECTED:
        return "not detected"
    if plain in NOT_ANALYSED:
        return "not analysed"
    return "trace" if plain in TRACE else None


def _numbered(cell: str, match: re.Match[str], marks: Marks) -> Value | Doubt:
    rest = match["rest"].strip()
    if match["words"] and rest.endswith(")"):
        rest = rest[:-1].strip()
    unit, flags, left = _after(rest)
    if left:
        return _unknown_word(cell)
    try:
        value = number(match["number"], marks)
    except Doubtful as doubt:
        said = " or ".join(f"{reading:f}" for reading in doubt.readings)
        return Doubt("number", cell, f"Does {cell!r} mean {said}?", tuple(f"{one:f}" for one in doubt.readings))
    except ValueError:
        return Doubt("cell", cell, f"{cell!r} is no number that can be read with a decimal {marks.decimal or 'mark'}.")
    sign = (match["sign"] or "").lower().replace(" ", "") if match["sign"] else ""
    sense: Sense = _SIGNS.get(sign) or _SIGNS.get((match["sign"] or "").lower()) or "exactly"
    if match["words"] or BELOW_FLAGS & set(flags):
        sense = "below"
    if value < 0:
        return Doubt("cell", cell, f"{cell!r} is below 0, which no mass, volume or concentration is.")
    return Value(value, sense, unit, flags)


def _after(rest: str) -> tuple[str, tuple[str, ...], str]:
    """Part what follows a number into unit, flags, and what is neither."""
    unit, flags, left = "", [], rest
    while left:
        flag = re.match(rf"[(\[]?\s*({_FLAG})\s*[)\]]?(?=[\s,;]|$)[,;]?\s*", left)
        if flag and not (not unit and known_unit(left)):
            flags.append(flag[1])
            left = left[flag.end() :]
            continue
        found = known_unit(left) if not unit else ""
        if found:
            unit, left = left, ""
            continue
        head, _, tail = left.partition(" ")
        if not unit and known_unit(head):
            unit, left = head, tail.strip()
            continue
        break
    split: list[str] = []
    for flag_text in flags:
        split += ["U", "J"] if flag_text == "UJ" else [flag_text]
    return unit, tuple(split), left


def _unknown_word(cell: str) -> Doubt:
    return Doubt(
        "word",
        " ".join(cell.split()),
        f"What does {' '.join(cell.split())!r} stand for in a column of results?",
        ("not detected", "not analysed", "absent"),
    )
