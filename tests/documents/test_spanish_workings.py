"""The worked calculation is told whole: every step, source and cause, with the same numbers as in English."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lapel.assessment.origins import row_of_report
from lapel.assessment.shift_time import worst_hours
from lapel.assessment.survey import assess
from lapel.documents.cells import budget_cells
from lapel.documents.record_workings import Appendix, worked_samples, worked_shifts
from lapel.documents.render import Picture
from lapel.documents.worded import told_everywhere
from lapel.documents.wording import wording
from lapel.exchange.survey_folder import read_survey
from lapel.figures import Figure, reading, working
from lapel.hygiene import mean_blank
from lapel.hygiene.windows import PortRun
from lapel.pictures.budget_bar import budget_bar
from lapel.said import said
from tests.documents.workings_said import FIGURES_MADE_IN, SOURCES, formulas, of_workings, said_of_figures

SPANISH = wording("es")
ENGLISH_WORDS = re.compile(
    r"(?<![\w-])(?:the|of|and|to|is|are|with|for|over|under|above|below|cannot|row|read|report|entry|step|given|mean|mass|"
    r"blank|flow|air|section|sample|cause|meter|certificate|limits?|detected|curve|time|average|from)(?![\w-])"
)
METHODS = re.compile(r"\(NIOSH \d+, issue[^()]*\)")
"""How the survey describes a method: written by people."""


def test_every_formula_of_the_kernel_is_walked():
    """One that is made anew for each unit is easily forgotten."""
    written = {
        node.name
        for file in (SOURCES / "hygiene").rglob("*.py")
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and any(_makes_a_formula(decorator) for decorator in node.decorator_list)
    }
    assert len(written) > 40
    assert not written - {formula.raw.__name__ for formula in formulas()}


def _makes_a_formula(decorator: ast.expr) -> bool:
    return isinstance(decorator, ast.Call) and ast.unparse(decorator.func) in ("formula", "net_mass_formula")


def test_every_constant_of_a_working_has_a_spanish_one():
    wanted = {text for text in of_workings() if re.search(r"[a-z]{3}", re.sub(r"\{\w+\}", "", text))}
    assert len(wanted) > 100
    assert not sorted(wanted - set(SPANISH.sentences))


def test_a_name_with_a_value_in_it_keeps_its_template():
    """A text put together in the code is found by no template."""
    glued = [
        f"{file.name}: {ast.unparse(node)}"
        for file in FIGURES_MADE_IN
        for node in said_of_figures(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.JoinedStr | ast.BinOp)
    ]
    assert not glued


@pytest.fixture(scope="module")
def worked() -> dict[str, list[dict[str, Any]]]:
    """The appendix of an awkward survey in both languages."""
    hard = assess(read_survey(Path(__file__).parents[2] / "examples" / "hard"))
    made = {}
    for language in ("en", "es"):
        tell, appendix = wording(language).told, Appendix({})
        sections = [*worked_samples(hard, appendix, tell=tell), *worked_shifts(hard, appendix, tell=tell)]
        made[language] = told_everywhere(sections, tell)
    return made


def texts_in(data: Any) -> Iterator[str]:
    match data:
        case str():
            yield data
        case Picture():
            yield from (data.words, *re.findall(r">([^<>]+)<", data.svg))
        case dict():
            yield from (text for value in data.values() for text in texts_in(value))
        case list():
            yield from (text for value in data for text in texts_in(value))


def test_no_word_of_a_worked_calculation_stays_english(worked: dict[str, list[dict[str, Any]]]):
    told = {METHODS.sub("", text) for text in texts_in(worked["es"])}
    assert len(told) > 500
    assert not sorted(text for text in told if ENGLISH_WORDS.search(text))


def test_the_appendix_is_the_same_in_both_languages_but_for_its_words(worked: dict[str, list[dict[str, Any]]]):
    number = re.compile(r"\d+(?:\.\d+)?")
    pairs = list(zip(texts_in(worked["en"]), texts_in(worked["es"]), strict=True))
    for texts in pairs:
        english, spanish = (sorted(number.findall(text.replace("m³", "m3"))) for text in texts)
        assert english == spanish
    steps = {english: spanish for english, spanish in pairs if re.fullmatch(r"step \d+", english)}
    assert len(steps) > 100
    assert all(spanish == english.replace("step", "paso") for english, spanish in steps.items())


def test_no_cause_is_cut_off_in_a_picture(worked: dict[str, list[dict[str, Any]]]):
    pictures = [part["budget"] for section in worked["es"] for part in section["parts"] if part["budget"]]
    assert pictures
    assert not {text for picture in pictures for text in texts_in(picture) if text.endswith("…")}


def spanish_texts(figure: Figure) -> list[str]:
    step = working(figure).steps[-1]
    terms = (text for term in step.terms for text in (term.label, term.origin))
    return [SPANISH.told(text) for text in (step.name, step.expression, *terms, step.source)]


def test_words_within_an_expression_and_its_terms_are_told():
    masses = [reading(2.0, "ug", name="blank B-1"), reading(0.5, "ug", name="blank B-2", sense="at most")]
    told = spanish_texts(mean_blank(masses))
    assert told[1] == "b = (Σ detectados + ½·Σ límites)/n + s"
    assert {"detectados[1]", "límites[1]"} <= set(told)


def test_what_a_person_named_stays_as_written():
    told = spanish_texts(reading(3.0, "ug", name="Ana's reading of {x}", source="notebook, page 3"))
    assert told == ["Ana's reading of {x}", "", "notebook, page 3"]


def test_why_nobody_was_exposed_stays_as_a_person_wrote_it():
    """Even where the words are a name of ours."""
    runs = [PortRun(reading(2.0, "ppm", name="mole ratio"), 0.0, 400.0)]
    average = worst_hours(runs, 480.0, 720.0, 320.0, "zero", "blank").upper
    told = spanish_texts(average)
    assert "tiempo sin exposición; blank" in told
    assert SPANISH.told(said("blank")) == "blanco"


@pytest.mark.parametrize(
    ("origin", "english", "spanish"),
    [
        ("", "report R-1", "informe R-1"),
        ("lab/R-1.csv, row 12", "report R-1, lab/R-1.csv, row 12", "informe R-1, lab/R-1.csv, fila 12"),
        ("R-1.xlsx, sheet A, row 2", "report R-1, R-1.xlsx, sheet A, row 2", "informe R-1, R-1.xlsx, hoja A, fila 2"),
        ("typed in by hand", "report R-1, typed in by hand", "informe R-1, typed in by hand"),
    ],
)
def test_the_row_of_a_report_is_told(origin: str, english: str, spanish: str):
    found = reading(3.0, "ug", name="front section", source=row_of_report("R-1", origin))
    assert found.source == english
    assert SPANISH.told(found.source) == spanish


def test_a_budget_counts_its_smaller_causes_in_spanish():
    shares = [("blank", "99.9 %", 0.999), ("flow drift", "0.1 %", 0.001)]
    one = budget_bar(shares, name="x", tell=SPANISH.told)
    assert "1 causa menor" in [text.text for text in one.texts()]
    two = budget_bar([*shares, ("pump counter", "0.0 %", 0.0)], name="x", tell=SPANISH.told)
    assert "2 causas menores" in [text.text for text in two.texts()]


def test_causes_are_told_in_the_words_of_a_picture():
    found = reading(10.0, "L", name="sample volume", uncertainty=1.0, cause="flow drift")
    drawing = budget_bar(budget_cells(found), name="x", tell=SPANISH.told)
    assert drawing.words == "Partes de la varianza: deriva del caudal 100 %."
