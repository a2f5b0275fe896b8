"""
A seeded writer of laboratory files: the same invented results in as many layouts as one likes, with the truth beside.

A style is a set of choices (layout, language, units, marks, non-detects, heading lines, what stands around the table).
`written` gives the bytes and `Truth` what every reader must find, or ask about.
"""

import csv
import io
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

import numpy as np
import openpyxl

from lapel.assessment.inputs import Agent
from lapel.exchange.laboratory.expectations import AgentNames, Expected, normal

AGENTS = (
    Agent("toluene", "Toluene", "108-88-3", 92.141),
    Agent("n-hexane", "n-Hexane", "110-54-3", 86.178),
    Agent("benzene", "Benzene", "71-43-2", 78.114),
)
NAMES = {
    "en": {"toluene": "Toluene", "n-hexane": "n-Hexane", "benzene": "Benzene"},
    "de": {"toluene": "Toluol", "n-hexane": "n-Hexan", "benzene": "Benzol"},
    "fr": {"toluene": "Toluène", "n-hexane": "n-Hexane", "benzene": "Benzène"},
    "es": {"toluene": "Tolueno", "n-hexane": "n-Hexano", "benzene": "Benceno"},
}
WORDS = {
    "en": {
        "sampler": ["Sample ID", "Client Sample", "Tube no.", "Field ID", "Your reference"],
        "agent": ["Analyte", "Compound", "Substance", "Parameter"],
        "front": ["Front", "Front section", "Section A", "Mass front"],
        "back": ["Back", "Back section", "Section B", "Mass back"],
        "mass": ["Mass", "Amount found", "Total mass", "Mass per sample"],
        "result": ["Result", "Value"],
        "limit": ["Reporting limit", "RL", "LOQ"],
        "unit": ["Units", "Unit"],
        "volume": ["Air volume", "Sample volume", "Volume"],
        "analysed": ["Analysed", "Date analysed", "Analysis date"],
        "remark": ["Remarks", "Comment"],
        "number": ["Lab ID", "Lab no."],
        "section": ["Section"],
        "flag": ["Qualifier", "Flag"],
        "method": ["Method"],
        "medium": ["Medium", "Matrix"],
    },
    "de": {
        "sampler": ["Probenbezeichnung", "Proben-Nr.", "Röhrchen"],
        "agent": ["Stoff", "Substanz", "Komponente"],
        "front": ["Sammelschicht", "Hauptschicht"],
        "back": ["Kontrollschicht", "Sicherungsschicht"],
        "mass": ["Masse", "Gesamtmasse", "Menge"],
        "result": ["Ergebnis", "Messwert"],
        "limit": ["Bestimmungsgrenze", "BG"],
        "unit": ["Einheit"],
        "volume": ["Luftvolumen", "Probenvolumen"],
        "analysed": ["Analysendatum", "Datum Analyse"],
        "remark": ["Bemerkung", "Hinweis"],
        "number": ["Labornummer", "Labor-Nr."],
        "section": ["Schicht"],
        "flag": ["Kennzeichen"],
        "method": ["Verfahren"],
        "medium": ["Träger"],
    },
    "fr": {
        "sampler": ["Échantillon", "Référence client", "N° échantillon"],
        "agent": ["Substance", "Composé"],
        "front": ["Zone avant", "Plage de mesure"],
        "back": ["Zone arrière", "Plage de contrôle"],
        "mass": ["Quantité", "Masse totale"],
        "result": ["Résultat", "Valeur"],
        "limit": ["Limite de quantification", "LQ"],
        "unit": ["Unité"],
        "volume": ["Volume d'air", "Volume prélevé"],
        "analysed": ["Date d'analyse"],
        "remark": ["Remarques"],
        "number": ["N° labo"],
        "section": ["Zone"],
        "flag": ["Qualificateur"],
        "method": ["Méthode"],
        "medium": ["Support"],
    },
    "es": {
        "sampler": ["Muestra", "Referencia cliente"],
        "agent": ["Analito", "Compuesto"],
        "front": ["Frontal"],
        "back": ["Posterior", "Trasera"],
        "mass": ["Masa", "Masa total"],
        "result": ["Resultado", "Valor"],
        "limit": ["Límite de cuantificación"],
        "unit": ["Unidades"],
        "volume": ["Volumen de aire"],
        "analysed": ["Fecha de análisis"],
        "remark": ["Observaciones"],
        "number": ["Lab ID"],
        "section": ["Zona"],
        "flag": ["Calificador"],
        "method": ["Método"],
        "medium": ["Medio"],
    },
}
LAYOUTS = ("long", "wide", "across", "blocks", "section rows", "suffix rows", "unit rows", "carried")
SCALE = {"ug": Decimal(1), "mg": Decimal("0.001"), "ng": Decimal(1000)}
UNIT_WORDS = {"ug": ["µg", "ug", "μg", "mcg", "µg/sample", "micrograms"], "mg": ["mg", "mg/tube"], "ng": ["ng"]}


@dataclass(frozen=True)
class Row:
    """One true result, in µg as decimal numbers."""

    sampler: str
    agent: str
    front: Decimal
    front_below: bool
    back: Decimal | None
    back_below: bool
    limit: Decimal
    volume: Decimal | None
    analysed: date


@dataclass(frozen=True)
class Style:
    """The choices of one laboratory."""

    kind: str = "csv"
    layout: str = "long"
    language: str = "en"
    encoding: str = "utf-8"
    separator: str = ","
    comma: bool = False
    groups: bool = False
    unit: str = "ug"
    unit_place: str = "heading"
    two_sections: bool = True
    below: str = "<"
    header_lines: int = 1
    title: bool = True
    footnotes: bool = True
    total: bool = False
    controls: bool = False
    repeat: bool = False
    lead_column: bool = False
    lab_numbers: bool = False
    cas: bool = False
    days: str = "iso"
    volume: bool = True
    limit_column: bool = True
    word: int = 0


@dataclass
class Truth:
    """What a reader must find, and how each column's heading was meant."""

    rows: dict[tuple[str, str], Row]
    columns: dict[str, str] = field(default_factory=dict)
    answers: dict[str, str] = field(default_factory=dict)


def drawn_style(seed):
    """Draw a style."""
    rng = np.random.default_rng(seed)

    def one(*choices):
        return choices[int(rng.integers(len(choices)))]

    layout = one(*LAYOUTS, "long", "wide", "long", "wide")
    language = one("en", "en", "en", "de", "fr", "es")
    comma = language != "en" and bool(rng.random() < 0.8)
    kind = one("csv", "csv", "xlsx")
    separator = one(";", "\t") if comma else one(",", ";", "\t", "|")
    place = one("heading", "heading", "title", "column", "cell")
    if place == "column" and layout in ("wide", "across"):
        place = "heading"
    if layout == "unit rows":
        place = "column"
    if layout == "across" and place == "heading":
        place = "title"
    unit = one("ug", "ug", "mg", "ng")
    return Style(
        kind=kind,
        layout=layout,
        language=language,
        encoding=one("utf-8", "utf-8-sig", "utf-16", "cp1252"),
        separator=separator,
        comma=comma,
        groups=bool(rng.random() < 0.25),
        unit=unit,
        unit_place=place,
        two_sections=layout in ("section rows", "suffix rows")
        or bool(rng.random() < 0.6 and layout in ("long", "wide", "blocks", "carried")),
        below=one("<", "< ", "ND", "n.d.", "U", "ND ()", "flag", "<LOQ"),
        header_lines=one(1, 1, 2, 3) if layout == "wide" else 1,
        title=bool(rng.random() < 0.7) or place == "title",
        footnotes=bool(rng.random() < 0.6),
        total=bool(rng.random() < 0.2) and layout == "wide",
        controls=bool(rng.random() < 0.4),
        repeat=bool(rng.random() < 0.25) and layout in ("long", "wide"),
        lead_column=bool(rng.random() < 0.2),
        lab_numbers=bool(rng.random() < 0.5),
        cas=bool(rng.random() < 0.4),
        days=one("iso", "dmy", "mdy", "month", "typed"),
        volume=bool(rng.random() < 0.7),
        limit_column=True,
        word=int(rng.integers(1000)),
    )


def true_rows(seed, samples=9, blanks=2):
    """Draw results: masses over four decades, some below the limit, with few enough digits to be written exactly."""
    rng = np.random.default_rng(seed)
    rows = {}
    for number in range(samples + blanks):
        is_blank = number >= samples
        sampler = f"K-{101 + number}"
        day = date(2026, 4, int(rng.integers(14, 29)))
        volume = None if is_blank else Decimal(str(round(float(rng.uniform(2, 14)), 2)))
        for agent, limit in (("toluene", "2"), ("n-hexane", "4"), ("benzene", "0.5")):
            limit = Decimal(limit)
            below = is_blank or rng.random() < 0.25
            value = Decimal(f"{float(np.exp(rng.uniform(np.log(float(limit) * 1.1), np.log(20000)))):.4g}")
            back_below = bool(rng.random() < 0.8)
            back = limit if back_below or below else Decimal(f"{float(limit) * float(rng.uniform(1.2, 3)):.3g}")
            rows[sampler, agent] = Row(
                sampler,
                agent,
                limit if below else value,
                bool(below),
                back,
                bool(back_below or below),
                limit,
                volume,
                day,
            )
    return rows


def expected():
    """What the survey expects."""
    samplers = [f"K-{101 + number}" for number in range(11)]
    keys = frozenset(agent.key for agent in AGENTS)
    return Expected(
        frozenset(samplers),
        AgentNames(AGENTS),
        date(2026, 4, 13),
        {normal(code): code for code in samplers},
        {normal(code): keys for code in samplers[:9]},
    )


class Writer:
    """Writes one file in one style."""

    def __init__(self, style, rows):
        self.style = style
        self.rows = rows
        self.truth = Truth(rows)
        self.merged = []

    def word(self, name):
        words = WORDS[self.style.language][name]
        return words[self.style.word % len(words)]

    @property
    def unit_word(self):
        words = UNIT_WORDS[self.style.unit]
        return words[self.style.word % len(words)]

    def number(self, value):
        plain = f"{value:f}"
        if "." in plain:
            plain = plain.rstrip("0").rstrip(".") if plain.rstrip("0").endswith(".") else plain
        whole, point, fraction = plain.partition(".")
        if self.style.groups and len(whole) > 3:
            mark = "." if self.style.comma else ","
            whole = f"{int(whole):,}".replace(",", mark)
        return whole + (("," if self.style.comma else ".") + fraction if point else "")

    def mass(self, value, below, beside=True):
        """A mass as its cell: text, or in a workbook a number where nothing stands around it."""
        style = self.style
        scaled = value * SCALE[style.unit]
        cell_unit = f" {self.unit_word}" if style.unit_place == "cell" else ""
        if not below:
            if style.kind == "xlsx" and not cell_unit and style.word % 3:
                return float(scaled)
            return self.number(scaled) + cell_unit
        text = self.number(scaled)
        return {
            "<": f"<{text}{cell_unit}",
            "< ": f"< {text}{cell_unit}",
            "ND": "ND",
            "n.d.": "n.d.",
            "U": f"{text}{cell_unit} U",
            "ND ()": f"ND ({text})",
            "flag": text + cell_unit if beside and self.style.layout in ("long", "carried") else f"<{text}{cell_unit}",
            "<LOQ": "<LOQ",
        }[style.below]

    def limit(self, value):
        cell_unit = f" {self.unit_word}" if self.style.unit_place == "cell" else ""
        scaled = value * SCALE[self.style.unit]
        if self.style.kind == "xlsx" and not cell_unit:
            return float(scaled)
        return self.number(scaled) + cell_unit

    def volume(self, value):
        if value is None:
            return ""
        return float(value) if self.style.kind == "xlsx" and self.style.word % 2 else self.number(value)

    def day(self, value):
        style = self.style
        if style.days == "typed" and style.kind == "xlsx":
            return value
        return {
            "iso": value.isoformat(),
            "typed": value.isoformat(),
            "dmy": f"{value.day:02d}.{value.month:02d}.{value.year}"
            if style.language != "en"
            else value.strftime("%d/%m/%Y"),
            "mdy": value.strftime("%m/%d/%Y"),
            "month": value.strftime("%d-%b-%Y"),
        }[style.days]

    def headed(self, name, unit=""):
        text = self.word(name)
        if unit:
            text += [f" ({unit})", f", {unit}", f" [{unit}]", f" {unit}"][self.style.word % 4]
        return text

    def column(self, role, heading):
        self.truth.columns[heading] = role
        return heading

    def mass_heading(self, name, role):
        return self.column(role, self.headed(name, self.unit_word if self.style.unit_place == "heading" else ""))

    def agent_name(self, key):
        return NAMES[self.style.language][key]

    # layouts

    def long(self, carried=False):
        style = self.style
        heads = []
        if style.lab_numbers:
            heads.append(self.column("laboratory number", self.word("number")))
        heads.append(self.column("sampler", self.word("sampler")))
        heads.append(self.column("agent", self.word("agent")))
        if style.cas:
            heads.append(self.column("cas", "CAS"))
        if style.two_sections:
            heads += [self.mass_heading("front", "front"), self.mass_heading("back", "back")]
        else:
            heads.append(self.mass_heading("mass", "mass"))
        if style.below == "flag":
            heads.append(self.column("qualifier", self.word("flag")))
        if style.limit_column:
            heads.append(self.mass_heading("limit", "reporting limit"))
        if style.unit_place == "column":
            heads.append(self.column("unit", self.word("unit")))
        if style.volume:
            heads.append(self.column("volume", self.headed("volume", "L")))
        heads.append(self.column("analysed on", self.word("analysed")))
        heads.append(self.column("remark", self.word("remark")))
        body, last = [], ""
        for index, row in enumerate(self.rows.values()):
            cells = [f"26{index:05d}"] if style.lab_numbers else []
            cells.append("" if carried and row.sampler == last else row.sampler)
            last = row.sampler
            cells.append(self.agent_name(row.agent))
            if style.cas:
                cells.append(next(agent.cas for agent in AGENTS if agent.key == row.agent))
            if style.two_sections:
                cells += [self.mass(row.front, row.front_below), self.mass(row.back, row.back_below, beside=False)]
            else:
                cells.append(self.mass(row.front, row.front_below))
            if style.below == "flag":
                cells.append("U" if row.front_below else "")
            if style.limit_column:
                cells.append(self.limit(row.limit))
            if style.unit_place == "column":
                cells.append(self.unit_word)
            if style.volume:
                cells.append(self.volume(row.volume))
            cells += [self.day(row.analysed), ""]
            body.append(cells)
        return [heads], body

    def wide(self):
        style = self.style
        agents = [agent.key for agent in AGENTS]
        unit = self.unit_word if style.unit_place == "heading" else ""
        first = [("sampler", self.word("sampler"), "")]
        if style.lab_numbers:
            first.insert(0, ("laboratory number", self.word("number"), ""))
        if style.volume:
            first.append(("volume", self.word("volume"), "L"))
        values = []
        for agent in agents:
            names = (["front", "back"] if style.two_sections else ["mass"]) + ["limit"]
            values += [(agent, name) for name in names]
        if style.header_lines == 1:
            heads = [[self.column(role, f"{text} ({u})" if u else text) for role, text, u in first]]
            for agent, name in values:
                role = {"limit": "reporting limit"}.get(name, name)
                text = (
                    f"{self.agent_name(agent)} {self.word(name).lower()}" if name != "mass" else self.agent_name(agent)
                )
                heads[0].append(self.column(role, f"{text} ({unit})" if unit else text))
            heads[0].append(self.column("analysed on", self.word("analysed")))
        else:
            upper = [text if style.header_lines == 3 else "" for _, text, _ in first]
            lower = ["" if style.header_lines == 3 else text for _, text, _ in first]
            units = [u for _, _, u in first]
            last = ""
            for agent, name in values:
                upper.append(self.agent_name(agent) if agent != last else "")
                if agent != last and style.kind == "xlsx":
                    span = sum(1 for other, _ in values if other == agent)
                    self.merged.append((len(upper), len(upper) + span - 1))
                last = agent
                lower.append(self.word(name))
                units.append(unit)
            upper.append("")
            lower.append(self.word("analysed"))
            units.append("")
            if style.header_lines == 2:
                lower = [f"{text} ({u})" if u and text else text for text, u in zip(lower, units, strict=True)]
                heads = [upper, lower]
            else:
                upper[-1] = lower[-1]
                lower[-1] = ""
                heads = [upper, lower, units]
        body = []
        for sampler in dict.fromkeys(row.sampler for row in self.rows.values()):
            mine = {row.agent: row for row in self.rows.values() if row.sampler == sampler}
            one = next(iter(mine.values()))
            cells = [f"26{len(body):05d}"] if style.lab_numbers else []
            cells.append(sampler)
            if style.volume:
                cells.append(self.volume(one.volume))
            for agent, name in values:
                row = mine[agent]
                if name == "limit":
                    cells.append(self.limit(row.limit))
                elif name == "back":
                    cells.append(self.mass(row.back, row.back_below))
                else:
                    cells.append(self.mass(row.front, row.front_below))
            cells.append(self.day(one.analysed))
            body.append(cells)
        if style.total:
            width = len(body[0])
            body.append(["" for _ in range(width)])
            total = ["" for _ in range(width)]
            total[0] = {"de": "Summe", "fr": "Total", "es": "Total"}.get(style.language, "Mean")
            total[-2] = self.number(Decimal("123.4"))
            body.append(total)
        return heads, body

    def across(self):
        samplers = list(dict.fromkeys(row.sampler for row in self.rows.values()))
        heads = [[self.column("agent", self.word("agent")), *samplers]]
        body = []
        for agent in AGENTS:
            mine = [self.rows[sampler, agent.key] for sampler in samplers]
            body.append([self.agent_name(agent.key), *(self.mass(row.front, row.front_below) for row in mine)])
        return heads, body

    def blocks(self):
        style = self.style
        heads = [self.column("agent", self.word("agent"))]
        if style.two_sections:
            heads += [self.mass_heading("front", "front"), self.mass_heading("back", "back")]
        else:
            heads.append(self.mass_heading("mass", "mass"))
        heads.append(self.mass_heading("limit", "reporting limit"))
        if style.unit_place == "column":
            heads.append(self.column("unit", self.word("unit")))
        body = []
        for index, sampler in enumerate(dict.fromkeys(row.sampler for row in self.rows.values())):
            body.append([f"{self.word('sampler')}: {sampler}"] if style.word % 2 else [self.word("sampler"), sampler])
            if index:
                body.append(heads)
            else:
                body.append(("HEAD", heads))
            for row in (row for row in self.rows.values() if row.sampler == sampler):
                cells = [self.agent_name(row.agent), self.mass(row.front, row.front_below)]
                if style.two_sections:
                    cells.append(self.mass(row.back, row.back_below))
                cells.append(self.limit(row.limit))
                if style.unit_place == "column":
                    cells.append(self.unit_word)
                body.append(cells)
            body.append([])
        return [], body

    def section_rows(self, suffix=False):
        style = self.style
        heads = [self.column("sampler", self.word("sampler")), self.column("agent", self.word("agent"))]
        if not suffix:
            heads.append(self.column("section", self.word("section")))
        heads.append(self.mass_heading("result", "mass" if style.unit_place == "heading" else "result"))
        heads.append(self.mass_heading("limit", "reporting limit"))
        if style.unit_place == "column":
            heads.append(self.column("unit", self.word("unit")))
        names = {
            "en": ("Front", "Back"),
            "de": ("Hauptschicht", "Kontrollschicht"),
            "fr": ("avant", "arrière"),
            "es": ("frontal", "trasera"),
        }[style.language]
        body = []
        for row in self.rows.values():
            for index, (mass, below) in enumerate(((row.front, row.front_below), (row.back, row.back_below))):
                cells = [row.sampler + (("-F", "-B")[index] if suffix else ""), self.agent_name(row.agent)]
                if not suffix:
                    cells.append(names[index])
                cells += [self.mass(mass, below), self.limit(row.limit)]
                if style.unit_place == "column":
                    cells.append(self.unit_word)
                body.append(cells)
        return [heads], body

    def unit_rows(self):
        heads = [
            self.column("sampler", self.word("sampler")),
            self.column("agent", self.word("agent")),
            self.column("result", self.word("result")),
            self.column("unit", self.word("unit")),
        ]
        body = []
        for row in self.rows.values():
            text = self.number(row.front * SCALE[self.style.unit])
            body.append(
                [row.sampler, self.agent_name(row.agent), f"<{text}" if row.front_below else text, self.unit_word]
            )
            if row.volume is not None:
                air = (row.front / row.volume).quantize(Decimal("0.0001"))
                text = self.number(air)
                body.append([row.sampler, self.agent_name(row.agent), f"<{text}" if row.front_below else text, "mg/m³"])
        return [heads], body

    def table(self):
        layout = self.style.layout
        if layout == "long":
            return self.long()
        if layout == "carried":
            return self.long(carried=True)
        if layout == "wide":
            return self.wide()
        if layout == "across":
            return self.across()
        if layout == "blocks":
            return self.blocks()
        if layout == "unit rows":
            return self.unit_rows()
        return self.section_rows(suffix=layout == "suffix rows")

    def lines(self):
        style = self.style
        heads, body = self.table()
        lines = []
        if style.title:
            lines += [
                ["Quarrybank Analytical (invented)"],
                ["Report no.", "QB-26-0417"],
                ["Date reported", "2026-05-04"],
            ]
            if style.unit_place == "title":
                lines.append([f"All results in {self.unit_word}"])
            lines += [["Results are corrected for desorption efficiency. Blanks were not subtracted."], []]
        start = len(lines)
        if style.controls and style.layout in ("long", "wide"):
            width = len(body[0])
            at = 1 if style.lab_numbers else 0
            control = ["" for _ in range(width)]
            control[at] = "LCS 1"
            if style.layout == "long":
                control[at + 1] = self.agent_name("toluene")
            control[at + (3 if style.cas and style.layout == "long" else 2 if style.layout == "long" else 1)] = (
                self.number(Decimal("5.5"))
            )
            body = [control, *body]
        for row in body:
            if isinstance(row, tuple):
                lines.append(row[1])
        if style.layout == "blocks":
            del lines[start:]
            lines += [row[1] if isinstance(row, tuple) else row for row in body]
        elif style.repeat and len(body) > 6:
            lines += [*heads, *body[:5], *heads, *body[5:]]
        else:
            lines += [*heads, *body]
        if style.footnotes:
            lines += [
                [],
                ["Results relate only to the items as received."],
                ["Volumes as stated by the customer, not verified."],
            ]
        if style.lead_column and style.layout != "blocks":
            lines = [["", *line] if line else line for line in lines]
        self.header_row = start + 1
        return lines

    def written(self):
        """Return name, bytes and truth."""
        lines = self.lines()
        if self.style.kind == "xlsx":
            return "report.xlsx", self.workbook(lines), self.truth
        text = io.StringIO(newline="")
        csv.writer(text, delimiter=self.style.separator, lineterminator="\r\n").writerows(lines)
        body = text.getvalue()
        if self.style.encoding == "cp1252":
            body = body.replace("μ", "µ")
        return "report.csv", body.encode(self.style.encoding, errors="strict"), self.truth

    def workbook(self, lines):
        book = openpyxl.Workbook()
        sheet = book.active
        sheet.title = "Results"
        for number, line in enumerate(lines, start=1):
            for column, cell in enumerate(line, start=1):
                if cell != "":
                    sheet.cell(number, column, cell)
        shift = 1 if self.style.lead_column else 0
        for left, right in self.merged:
            if right > left and self.style.word % 2:
                sheet.merge_cells(
                    start_row=self.header_row,
                    end_row=self.header_row,
                    start_column=left + shift,
                    end_column=right + shift,
                )
        if self.style.word % 4 == 0:
            cover = book.create_sheet("Cover", 0)
            cover["A1"] = "Certificate"
            cover["A2"] = "Thank you for your order."
        out = io.BytesIO()
        book.save(out)
        return out.getvalue()


def written(style, rows):
    """Write rows in a style."""
    return Writer(style, rows).written()
