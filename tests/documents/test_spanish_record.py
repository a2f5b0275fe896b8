"""The calculation record in Spanish: nothing of ours in English, the same numbers and verdicts in the same rows."""

import re
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
    left = sorted({*written_by_people(), *PROPER, "lapel assess FOLDER --json FILE"}, key=len, reverse=True)
    english = set()
    for place, text in texts_in(records["es"]):
        rest = text
        for theirs in left:
            rest = rest.replace(theirs, "")
        if OURS.search(rest) and not CODES.search(place):
            english.add((place, rest))
    assert not sorted(english)


def test_a_text_with_words_stands_alike_in_both_only_if_people_wrote_it_or_it_is_a_name(records: dict[str, Any]):
    people = " ".join(written_by_people())
    written = [
        path.read_text(encoding="utf-8-sig") for path in EXAMPLE.rglob("*.*") if path.suffix in (".csv", ".toml")
    ]
    folder = people + " ".join(written)
    alike = {text for _, text in texts_in(records["en"])} & {text for _, text in texts_in(records["es"])}
    own = {text for text in alike if re.search(r"[a-z]{4}", text) and text not in folder}
    known = re.compile(
        r"^(over|cannot tell|under|sound|qualified|void|verdict|standing|flow_read, .*|reading [\d.]+|[0-9a-f]{64}"
        r"|laboratory/.*|NIOSH .*|JCGM .*|ISO .*|EN .*|Lapel .*|.* L/min|.* mL/min|= .*|2026-.*)$"
    )
    assert not sorted(text for text in own if not known.match(text))


def test_the_numbers_and_codes_are_those_of_the_english_record(records: dict[str, Any]):
    figure = re.compile(r"(?<![\w.-])\d+\.\d+(?![\w.-])")
    english, spanish = (
        [found for found in texts_in(record) if not found[0].endswith(DRAWN)] for record in records.values()
    )
    assert len(english) == len(spanish)
    for (place, one), (other_place, other) in zip(english, spanish, strict=True):
        assert place == other_place
        if place != ".samples.widths" and place != ".flows.widths":
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
