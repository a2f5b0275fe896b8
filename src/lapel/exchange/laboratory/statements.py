"""What a report says outside its tables: its number, its days, units for all results, and what was corrected."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from lapel.exchange.laboratory.days import DayOrder, day_of
from lapel.exchange.laboratory.role_words import plain_words
from lapel.exchange.laboratory.sheets import LaboratoryFile, Sheet, address, shown
from lapel.exchange.laboratory.unit_words import Unit, known_unit

_LABELS = {
    "code": "report no|report number|report id|report ref|report reference|report|certificate no|certificate of "
    "analysis|"
    "certificate|berichtsnummer|bericht nr|prufbericht nr|prufbericht|rapport n|n de rapport|rapport no|informe "
    "n|job no|"
    "work order|order no|auftragsnummer|auftrag nr",
    "laboratory": "laboratory|lab|lab name|laboratory name|labor|laboratoire|laboratorio|analysed by|prepared by",
    "received_on": "date reported|reported|report date|date of report|date of issue|issued|issue date|reported on|"
    "berichtsdatum|date du rapport|datum|fecha del informe",
    "samples_received_on": "date received|received|samples received|date of receipt|received on|receipt date|eingang|"
    "eingangsdatum|probeneingang|date de reception|fecha de recepcion|samples received on",
    "receipt_temperature": "temperature on receipt|receipt temperature|temp on receipt|received at|sample temperature|"
    "cooler temperature|temperatur bei eingang|temperature a reception|temperature at receipt|cooler temp",
}
_LABEL_OF = {plain_words(word): name for name, words in _LABELS.items() for word in words.split("|")}
_TEMPERATURE = re.compile(r"(-?\d{1,3}(?:[.,]\d{1,2})?)\s*(°\s?[CF]|deg(?:rees)?\s?[CF]|[CFK])\b", re.IGNORECASE)
_STATED_UNIT = re.compile(
    r"(?P<what>results?|mass(?:es)?|amounts?|values?|concentrations?|volumes?|quantit\w+|ergebnisse?|masse[n]?|angaben|"
    r"r[ée]sultats?|limits?|resultados?)\b[^.;\n]{0,40}?\b(?:in|as|expressed|are|en|reported in)\s+"
    r"(?P<unit>[^\s,;.]+(?:\s?/\s?[^\s,;.]+)?(?: per \w+)?)",
    re.IGNORECASE,
)
_RECOVERY = re.compile(
    r"(desorption|recovery|recoveries|extraction eff\w*|wiederfindung\w*|desorptions\w*|rendement|d\.?e\.?\b)",
    re.IGNORECASE,
)
_BLANK = re.compile(r"\bblanks?\b|blindwert\w*|\bblancs?\b|\bblanco", re.IGNORECASE)
_CORRECTED = re.compile(
    r"correct|korrigiert|corrig|subtract|adjusted|applied|ber[üu]cksichtigt|abgezogen|deducted|taken off", re.IGNORECASE
)
_NOT = re.compile(
    r"\bnot\b|\bno\b|\bun(?:corrected|adjusted)|uncorrected|\bnicht\b|\bohne\b|\bnon\b|\bwithout\b|\bkeine?\b|\bsans\b|\bneither\b|\bnor\b",
    re.IGNORECASE,
)
_BOTH = re.compile(r"\bneither\b|\bnor\b|\bor\b|\boder\b|\bweder\b|\bni\b", re.IGNORECASE)
_FACTOR = re.compile(
    r"\bk\s*=\s*(\d(?:[.,]\d+)?)|coverage factor\s*(?:of|k)?\s*[:=]?\s*(\d(?:[.,]\d+)?)", re.IGNORECASE
)
_MOST_ROWS = 400
_LONGEST = 600


@dataclass(slots=True)
class Statements:
    """What was found outside the tables; each with the cell that says it."""

    values: dict[str, tuple[str, str]] = field(default_factory=dict)
    units: dict[str, tuple[Unit, str]] = field(default_factory=dict)
    corrected: dict[str, set[str]] = field(default_factory=lambda: {"recovery": set(), "blank": set()})
    corrected_where: dict[str, str] = field(default_factory=dict)
    factors: dict[float, str] = field(default_factory=dict)

    def says(self, name: str) -> tuple[str, str]:
        """Return a value and where it stands; empty texts where nothing does."""
        return self.values.get(name, ("", ""))

    def corrected_by(self, what: str) -> tuple[str, str]:
        """Return “laboratory” or “nobody”, and where it says so; empty where it is silent or says both."""
        said = self.corrected[what]
        return (next(iter(said)), self.corrected_where[what]) if len(said) == 1 else ("", "")


def statements_of(file: LaboratoryFile, inside: dict[str, set[int]], order: DayOrder | None) -> Statements:
    """
    Read what stands outside the tables.

    Parameters
    ----------
    inside : dict of str to set of int
        By sheet, rows that belong to tables and are no statements.
    """
    found = Statements()
    for sheet in file.sheets:
        for number, texts in _lines(sheet, inside.get(sheet.name, set())):
            where = address(sheet, number)
            _labelled(texts, where, order, found)
            _said(" ".join(texts), where, found)
    return found


def _lines(sheet: Sheet, inside: set[int]) -> Iterator[tuple[int, list[str]]]:
    seen = 0
    for number, cells in enumerate(sheet.rows, start=1):
        if number in inside:
            continue
        texts = [shown(cell).strip()[:_LONGEST] for cell in cells if shown(cell).strip()]
        if texts:
            seen += 1
            yield number, texts
        if seen >= _MOST_ROWS:
            return


def _labelled(texts: list[str], where: str, order: DayOrder | None, found: Statements) -> None:
    pairs: list[tuple[str, str]] = []
    for index, text in enumerate(texts):
        label, colon, rest = text.partition(":")
        if colon and rest.strip():
            pairs.append((label, rest.strip()))
        elif index + 1 < len(texts):
            pairs.append((label, texts[index + 1].strip(": ")))
    for label, value in pairs:
        name = _LABEL_OF.get(plain_words(label), "")
        if not name or name in found.values or not value or len(value) > 120:
            continue
        if name == "receipt_temperature":
            match = _TEMPERATURE.search(value)
            if match:
                found.values[name] = match[0], where
        elif name in ("received_on", "samples_received_on"):
            day = day_of(value, order)
            if day is not None:
                found.values[name] = (day.isoformat() if isinstance(day, date) else value), where
        else:
            found.values[name] = value, where
    for text in texts:
        match_ = re.search(
            r"\b(?:report|certificate|bericht|rapport)\s+(?:no\.?|number|nr\.?|n°)?\s*:?\s*([A-Z]{1,5}[-/ "
            r"]?\d[\w\-/]*)",
            text,
            re.IGNORECASE,
        )
        if match_ and "code" not in found.values:
            found.values["code"] = match_[1].rstrip(".,;:"), where


def temperature(text: str) -> tuple[str, str] | None:
    """Return a temperature's number and unit, as in “5.2 °C”; None where it is none."""
    match = _TEMPERATURE.search(text)
    if match is None:
        return None
    unit = match[2][-1].upper()
    return match[1].replace(",", "."), "K" if unit == "K" else f"°{unit}"


def _said(text: str, where: str, found: Statements) -> None:
    for match in _STATED_UNIT.finditer(text):
        unit = known_unit(match["unit"].replace(" per ", "/").strip(" .")) or known_unit(
            match["unit"].partition(" ")[0]
        )
        if unit is not None:
            found.units.setdefault(unit.kind, (unit, f"{where}: “{match[0].strip()}”"))
    for clause in re.split(r"[.;\n]|,? (?:but|and|und|et|aber|mais) ", text):
        corrected = _CORRECTED.search(clause)
        said = "nobody" if _NOT.search(clause) else "laboratory"
        if said == "nobody" and _RECOVERY.search(clause) and _BLANK.search(clause) and not _BOTH.search(clause):
            continue  # “blank-corrected, not recovery-corrected”: which of the two is denied takes a reader
        for what, pattern in (("recovery", _RECOVERY), ("blank", _BLANK)):
            if corrected and pattern.search(clause):
                found.corrected[what].add(said)
                found.corrected_where.setdefault(what, f"{where}: “{clause.strip()}”")
    for match in _FACTOR.finditer(text):
        found.factors.setdefault(float((match[1] or match[2]).replace(",", ".")), where)
