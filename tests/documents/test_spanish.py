"""Spanish documents are Spanish: every sentence of ours is told, whatever people wrote stays as they wrote it."""

import ast
import csv
import re
import tomllib
from collections.abc import Iterator
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import get_args

import pytest

from lapel.assessment.follow_up import judged_groups
from lapel.assessment.group import BAND_WORDS
from lapel.assessment.inputs import BlankUse, LimitKind, Purpose
from lapel.assessment.notification import notification_clocks
from lapel.assessment.results import SurveyAssessment, Verdict
from lapel.assessment.survey import assess
from lapel.documents.blocks.model import Document, Drawn
from lapel.documents.compose_findings import EFFECT_WORDS
from lapel.documents.letters import LetterFacts, group_posting, worker_letter
from lapel.documents.report import ReportFacts, client_summary, survey_report
from lapel.documents.wording import LANGUAGES, UnusableWording, packaged_sentences, wording
from lapel.documents.worker_results import posted_groups, results_by_worker
from lapel.exchange.survey_folder import read_survey
from lapel.fieldlog.entries import KINDS, UNITS
from lapel.fieldlog.state import EndedBy, RoundPhase
from lapel.hygiene.findings import LEVELS, StandingBound
from lapel.hygiene.measures import CLAIM, MEASURES
from lapel.hygiene.rulebook import CERTAINTIES
from lapel.reference import library, notification_rules
from lapel.reference.rule_books import PACKAGED, rule_book
from lapel.said import said
from tests.documents.workings_said import of_workings

SOURCES = Path(__file__).parents[2] / "src" / "lapel"
SPANISH = packaged_sentences("es")
NAMES = re.compile(r"\{\w+\}")


# What is written in the code


def templates(tree: ast.Module) -> Iterator[str]:
    """Every text a module makes a sentence of; a name stands for the texts given to it in the same module."""
    given: dict[str, list[ast.expr]] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            given.setdefault(node.targets[0].id, []).append(node.value)
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.value is not None:
            given.setdefault(node.target.id, []).append(node.value)
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "said":
            yield from constants(node.args[0], given)


def constants(node: ast.expr, given: dict[str, list[ast.expr]]) -> Iterator[str]:
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.IfExp():
            yield from constants(node.body, given)
            yield from constants(node.orelse, given)
        case ast.Dict():
            for value in node.values:
                yield from constants(value, given)
        case ast.Subscript():
            yield from constants(node.value, given)
        case ast.Name():
            for value in given.get(node.id, ()):
                if not isinstance(value, ast.Name):
                    yield from constants(value, {})
        case _:
            return  # comes from a table or a rule book: held below


def test_every_sentence_made_in_the_code_has_a_spanish_one():
    made = {text for file in SOURCES.rglob("*.py") for text in templates(ast.parse(file.read_text(encoding="utf-8")))}
    assert len(made) > 200
    assert not sorted(text for text in made if re.search(r"[a-z]{2}", NAMES.sub("", text)) and text not in SPANISH)


def test_a_sentence_nobody_makes_is_not_kept():
    """What no module writes comes from a table, a rule book, or is a count; those are named by the tests below."""
    made = {text for file in SOURCES.rglob("*.py") for text in templates(ast.parse(file.read_text(encoding="utf-8")))}
    known = made | set(of_counts()) | set(of_tables()) | set(of_rule_books()) | set(of_the_log()) | set(FREE)
    known |= set(of_workings())
    assert not sorted(set(SPANISH) - known)


@pytest.mark.parametrize("source", ["of_counts", "of_tables", "of_rule_books", "of_the_log"])
def test_what_tables_and_rule_books_say_has_a_spanish_one(source: str):
    said_there = set(globals()[source]())
    wanted = {text for text in said_there if re.search(r"[a-z]{3}", NAMES.sub("", text)) and text not in TITLES}
    assert wanted
    assert not sorted(wanted - set(SPANISH))


FREE = (
    "confirm with the authority", "confirm with the authority before use", "Confirm with the authority before use",
    "House", "2-Butanone (MEK)", "nervous system", "irritation", "eye irritation", "respiratory irritation",
    "respiratory tract", "lungs", "liver", "kidney", "kidneys", "skin", "blood", "cancer", "reproduction", "hearing",
)  # fmt: skip
"""What surveys usually name so, effects above all; another name stays as it was written."""

TITLES = {
    "NIOSH 77-173, Occupational Exposure Sampling Strategy Manual",
    "NIOSH Manual of Analytical Methods",
    "NIOSH Manual of Analytical Methods; ISO 22065",
}
"""Documents named by their own titles."""


@pytest.mark.parametrize("english", sorted(SPANISH))
def test_a_spanish_sentence_fills_in_the_same_names_and_ends_alike(english: str):
    spanish = SPANISH[english]
    assert sorted(NAMES.findall(spanish)) == sorted(NAMES.findall(english))
    assert spanish.endswith(".") == english.endswith(".")
    assert (spanish[:1] in " ,;") == (english[:1] in " ,;")  # a part that hangs on to another one


# What is written in tables and rule books


def of_rule_books() -> Iterator[str]:
    for key in PACKAGED:
        book = rule_book(key)
        yield from (book.title, book.caution)
        for rule in book.rules:
            yield from (rule.title, rule.wanted)
            yield from (tier.remedy for tier in (*rule.tiers, rule.unrecorded) if tier is not None)
            for citation in (rule.citation, *(tier.citation for tier in rule.tiers)):
                if citation is not None:
                    yield from (citation.document, citation.section)


def of_tables() -> Iterator[str]:
    follow_up = tomllib.loads(files("lapel.reference").joinpath("data/follow_up.toml").read_text(encoding="utf-8"))
    yield from (row["words"] for row in follow_up["sample_again"])
    yield from (row["kind"] for row in follow_up["respirator"])
    for rule in notification_rules():
        yield from (rule.substance, rule.industry, rule.trigger)
    yield from (
        *get_args(Verdict),
        *LEVELS,
        *(bound for bound in get_args(StandingBound) if bound.startswith("at ")),
        *EFFECT_WORDS.values(),
        *CERTAINTIES,
    )
    yield from (*get_args(LimitKind), *get_args(Purpose), *get_args(BlankUse), *BAND_WORDS, *get_args(EndedBy))
    yield from (measure.unit for measure in MEASURES.values() if measure.unit not in (CLAIM, "min", "mL/min"))
    yield from ("sound", "qualified", "void", "on hold", "flow read", "look at the pump", "valve touched", "fault")
    yield from ("as the survey states it", "BOHS/NVvA, Testing Compliance with Occupational Exposure Limits, 3.6")
    yield from ("December 2011", "NIOSH 77-173, figure 1.1", "the flow before", "the flow after")
    yield from ("the mean of both flows", "these results alone", "these results and the prior of the spread")
    yield from (substance.name for substance in library().substances)


def of_the_log() -> Iterator[str]:
    """Codes of the log that sentences about its entries carry, and what measures call a thing nobody wrote down."""
    envelope = ("id", "device", "author", "sequence", "at", "kind", "corrects", "reason")
    yield from (*KINDS, *envelope, *get_args(RoundPhase), *UNITS)
    for kind in KINDS.values():
        yield from kind.fields
        yield from (field.words for field in kind.fields.values() if field.needed)
    yield from (measure.unsaid for measure in MEASURES.values() if measure.unsaid)


def of_counts() -> Iterator[str]:
    for noun in ("sample", "comparison", "conflict"):
        yield from (f"{{n}} {noun}", f"{{n}} {noun}s")
    yield from ("{n} entry", "{n} entries")
    for noun in ("result", "worker"):
        yield from (f"no {noun}s", f"one {noun}", f"{{number}} {noun}s")
    yield from ("two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
    yield from (date(2026, 6, day).strftime("%A") for day in range(1, 8))


# What stands in the documents

EXAMPLE = Path(__file__).parents[2] / "examples" / "hard"
OURS = re.compile(
    r"\b(?:the|of|and|to|is|are|with|for|over|under|above|below|cannot|limits?|shifts?|samples?|results?|workers?|not|by)\b"
)
"""Words that English sentences of ours cannot do without."""


@pytest.fixture(scope="module")
def hard() -> SurveyAssessment:
    return assess(read_survey(EXAMPLE))


@pytest.fixture(scope="module")
def documents(hard: SurveyAssessment) -> dict[str, dict[str, Document]]:
    groups = judged_groups(hard)
    clocks = notification_clocks(hard, completed_on=date(2026, 12, 1))
    told: dict[str, dict[str, Document]] = {}
    for language in LANGUAGES:
        words = wording(language)
        made = {
            "report": survey_report(hard, groups, words, ReportFacts(clocks=clocks)),
            "summary": client_summary(hard, groups, words, ReportFacts(clocks=clocks)),
        }
        made |= {f"letter {who}": worker_letter(hard, who, words, LetterFacts()) for who in results_by_worker(hard)}
        made |= {f"list {group}": group_posting(hard, group, words, LetterFacts()) for group in posted_groups(hard)}
        told[language] = made
    return told


def everything_in(document: Document) -> list[str]:
    """Every text, those of pictures as drawn and as heard included, and what stands on every page."""
    drawn = [block.picture for block in document.blocks if isinstance(block, Drawn)]
    inside = [text for picture in drawn for text in re.findall(r">([^<>]+)<", picture.svg)]
    return [*document.texts(), document.kind, document.footer, document.page_words, *inside, *(p.words for p in drawn)]


def written_by_people() -> set[str]:
    """Every cell of the survey folder, longest first: texts that stay as somebody wrote them."""
    with (EXAMPLE / "survey.toml").open("rb") as file:
        survey = tomllib.load(file)
    cells = {text for part in (survey, *(p for p in survey.values() if isinstance(p, dict))) for text in texts_of(part)}
    for table in EXAMPLE.glob("*.csv"):
        with table.open(encoding="utf-8", newline="") as file:
            cells |= {cell for row in csv.reader(file) for cell in row}
    ours = [cell.rstrip(".") for cell in cells if len(cell) > 3 and OURS.search(cell)]
    return {*ours, *(cell[:1].upper() + cell[1:] for cell in ours)}


def texts_of(part: dict[str, object]) -> Iterator[str]:
    for value in part.values():
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            yield from texts_of(value)


PROPER = (
    "NIOSH Manual of Analytical Methods", "NIOSH Pocket Guide to Chemical Hazards",
    "Testing Compliance with Occupational Exposure Limits",
    "Alder Bay laboratory", "The log",
)  # fmt: skip
"""Names and titles that hold an English word, and stay."""


@pytest.fixture(scope="module")
def left_as_written() -> list[str]:
    return sorted({*written_by_people(), *PROPER, "lapel assess FOLDER --json FILE"}, key=len, reverse=True)


def test_no_sentence_of_ours_stands_in_english_in_a_spanish_document(
    documents: dict[str, dict[str, Document]], left_as_written: list[str]
):
    english = []
    for document in documents["es"].values():
        for text in everything_in(document):
            rest = text
            for theirs in left_as_written:
                rest = rest.replace(theirs, "")
            if OURS.search(rest):
                english.append(rest)
    assert not english


def test_substances_are_named_in_spanish_in_every_sentence_and_cell(
    hard: SurveyAssessment, documents: dict[str, dict[str, Document]]
):
    """A letter fills the name into its own texts, a table holds it alone, a sentence of the kernel carries it along."""
    english = [agent.name for agent in hard.survey.agents.values()]
    assert all(SPANISH[name] != name for name in english)
    for name, document in documents["es"].items():
        own = [text for text in everything_in(document) if "NIOSH Pocket Guide" not in text]
        assert not [text for text in own if any(re.search(rf"{re.escape(each)}(?!\w)", text) for each in english)], name


def test_nothing_stands_alike_in_both_languages_but_names_numbers_and_what_people_wrote(
    documents: dict[str, dict[str, Document]], left_as_written: list[str]
):
    alike = set()
    for name, document in documents["es"].items():
        alike |= set(everything_in(document)) & set(everything_in(documents["en"][name]))
    for text in alike:
        rest = text
        for theirs in left_as_written:
            rest = rest.replace(theirs, "")
        assert not OURS.search(rest), text


def test_both_languages_say_as_much_with_the_same_numbers(documents: dict[str, dict[str, Document]]):
    """A translation turns words, never digits; days and small counts are words in both."""
    figure = re.compile(r"(?<![\w.-])\d+\.\d+(?![\w.-])")
    for name, english in documents["en"].items():
        spanish = documents["es"][name]
        assert len(english.blocks) == len(spanish.blocks)
        for one, other in zip(english.blocks, spanish.blocks, strict=True):
            assert type(one) is type(other)
        numbers = [sorted(figure.findall(" ".join(document.texts()))) for document in (english, spanish)]
        assert numbers[0] == numbers[1], name


def test_english_documents_are_made_without_a_list():
    assert packaged_sentences("en") == {}


def test_a_firm_says_a_sentence_of_the_rules_its_own_way(tmp_path: Path):
    own = tmp_path / "own.toml"
    own.write_text('[sentence]\n"action level" = "umbral de acción"\n', encoding="utf-8")
    assert wording("es", own=own).told(said("action level")) == "umbral de acción"
    assert wording("en", own=own).told(said("action level")) == "umbral de acción"
    own.write_text('[sentence]\n"action levels" = "x"\n', encoding="utf-8")
    with pytest.raises(UnusableWording, match=r"sentence.action levels: found a text nobody reads"):
        wording("es", own=own)
