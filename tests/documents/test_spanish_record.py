"""The calculation record in Spanish: nothing of ours in English, the same numbers and verdicts in the same rows."""

import csv
import re
import tomllib
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.documents.assessment_record import assessment_record, record_data
from lapel.documents.render import Picture
from lapel.documents.wording import wording
from lapel.exchange.survey_folder import read_survey
from tests.documents.test_spanish import EXAMPLE, OURS, PROPER, written_by_people

TEMPLATE = Path(__file__).parents[2] / "src" / "lapel" / "documents" / "templates" / "assessment_record.typ"


@pytest.fixture(scope="module")
def hard() -> SurveyAssessment:
    return assess(read_survey(EXAMPLE))


@pytest.fixture(scope="module")
def records(hard: SurveyAssessment) -> dict[str, Any]:
    return {language: record_data(hard, wording(language)) for language in ("en", "es")}


def cells_of_the_folder() -> set[str]:
    """Every text of the survey folder, its log included, of more than three characters."""
    stated = [tomllib.loads(file.read_text(encoding="utf-8")) for file in EXAMPLE.rglob("*.toml")]
    texts = {text for _, text in texts_in(stated)}
    for table in EXAMPLE.rglob("*.csv"):
        with table.open(encoding="utf-8-sig", newline="") as file:
            texts |= {cell.rstrip(".") for row in csv.reader(file) for cell in row}
    return {text for text in texts if len(text) > 3}


HEARD, DRAWN = "@heard", "@drawn"


def texts_in(data: Any, place: str = "") -> list[tuple[str, str]]:
    """Every text with its place, those of pictures as drawn and as heard included."""
    match data:
        case Picture(svg=svg, words=words):
            return [(place + HEARD, words), *((place + DRAWN, text) for text in re.findall(r">([^<>]+)<", svg))]
        case str():
            return [(place, data)]
        case dict():
            return [found for key, value in data.items() for found in texts_in(value, f"{place}.{key}")]
        case list():
            return [found for value in data for found in texts_in(value, place)]
        case _:
            return []


CODES = re.compile(r"\.(verdict|code)$|^\.(tallies|sentences)$|^\.word\b")
"""Places of codes by which the template chooses a colour and finds the word."""


def test_no_sentence_of_ours_stands_in_english(records: dict[str, Any]):
    people = {cell for cell in cells_of_the_folder() if OURS.search(cell)}
    left = sorted({*people, *written_by_people(), *PROPER}, key=len, reverse=True)
    english = set()
    for place, text in texts_in(records["es"]):
        rest = text
        for theirs in left:
            rest = rest.replace(theirs, "")
        if OURS.search(rest) and not CODES.search(place):
            english.add((place, rest))
    assert not sorted(english)


NAMES = re.compile(
    r"over|cannot tell|under|sound|qualified|void|at least|estimate|part of the period|remark|verdict|standing"  # codes
    r"|(flow_read|reading)\b.*|laboratory/.*|[0-9a-f]{64}|Lapel [\d.]+"  # the log's own names, files and their hash
    r"|\S+_\S+|.+ = .+"  # letters of a formula, and the formula
)


def test_what_stands_alike_in_both_are_names_codes_and_what_people_wrote(records: dict[str, Any]):
    alike = {text for _, text in texts_in(records["en"])} & {text for _, text in texts_in(records["es"])}
    written = sorted(cells_of_the_folder(), key=len, reverse=True)
    ours = []
    for text in sorted(text for text in alike if re.search(r"[a-z]{4}", text) and not NAMES.fullmatch(text)):
        rest = text
        for theirs in written:
            rest = rest.replace(theirs, "").replace(theirs[:1].upper() + theirs[1:], "")
        if re.search(r"[a-z]{4}", rest):
            ours.append(text)
    assert not ours


def test_the_numbers_and_codes_are_those_of_the_english_record(records: dict[str, Any]):
    figure = re.compile(r"(?<![\w.-])\d+\.\d+(?![\w.-])")
    english, spanish = (
        [found for found in texts_in(record) if not found[0].endswith(DRAWN)] for record in records.values()
    )
    assert len(english) == len(spanish)
    for (place, one), (other_place, other) in zip(english, spanish, strict=True):
        assert place == other_place
        if not place.endswith(("widths", "verdict_width")):
            assert sorted(figure.findall(one)) == sorted(figure.findall(other)), (place, one, other)
        if CODES.search(place) and not place.startswith(".word") and place != ".sentences":
            assert one == other


def test_every_label_is_used_by_the_template_and_every_one_it_uses_is_there():
    used = set(re.findall(r"\bw\.(\w+)", TEMPLATE.read_text(encoding="utf-8")))
    filled_in_code = {"title", "tallies", "findings_lead"}
    for language in ("en", "es"):
        assert set(wording(language).texts["record"]) == used | filled_in_code


def test_the_pdf_is_spanish_to_a_screen_reader_too(hard: SurveyAssessment, tmp_path: Path):
    path = tmp_path / "registro.pdf"
    path.write_bytes(assessment_record(hard, wording("es")))
    with pikepdf.open(path) as pdf:
        assert str(pdf.Root["/Lang"]) == "es"
        assert pdf.open_metadata()["dc:title"].startswith("Registro de cálculo: ")


def test_a_firm_says_a_heading_of_the_record_its_own_way(hard: SurveyAssessment, tmp_path: Path):
    own = tmp_path / "own.toml"
    own.write_text('[record]\nsamples = "Samplers and agents"\n', encoding="utf-8")
    assert record_data(hard, wording(own=own))["words"]["samples"] == "Samplers and agents"
