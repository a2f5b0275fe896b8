"""Letters and postings: plain words, no identities, the same digits as everywhere, every text in both languages."""

from __future__ import annotations

import io
import string
import tomllib
from datetime import date
from importlib.resources import files
from pathlib import Path

import docx
import pytest

from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.documents.blocks import Paragraph, Table, VerdictLine, document_as_docx, document_as_pdf
from lapel.documents.blocks.model import Document
from lapel.documents.letters import LetterFacts, group_posting, worker_letter
from lapel.documents.wording import LANGUAGES, UnusableWording, wording
from lapel.documents.worker_results import everybody, results_by_worker, slip_codes
from lapel.exchange.survey_folder import read_survey
from tests.documents.pdf_text import squeezed, whole_text
from tests.documents.reading_level import ease_in_spanish, grade

EXAMPLES = Path(__file__).parents[2] / "examples"
FACTS = LetterFacts(
    "A. Ruiz, room 12", ("An exhaust hood will be fitted by 15 December.",), date(2026, 11, 20), date(2026, 12, 14)
)


@pytest.fixture(scope="module")
def hard() -> SurveyAssessment:
    return assess(read_survey(EXAMPLES / "hard"))


def said(document: Document) -> str:
    return " ".join(block.text for block in document.blocks if isinstance(block, Paragraph | VerdictLine))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_worker_with_a_sample_gets_a_letter_with_every_result(hard: SurveyAssessment, language: str):
    for worker, results in results_by_worker(hard).items():
        words = wording(language)
        letter = worker_letter(hard, worker, words, FACTS)
        texts = list(letter.texts())
        for result in results:
            assert words.told(result.agent) in texts
            assert not result.limit or words.told(result.limit) in texts
        assert document_as_pdf(letter).startswith(b"%PDF")


def test_an_action_level_is_never_called_the_limit(hard: SurveyAssessment):
    """W-05 breathed formaldehyde above the action level; against the limit it cannot be told."""
    lines = [
        block
        for block in worker_letter(hard, "W-05", wording(), FACTS).blocks
        if isinstance(block, VerdictLine) and "Formaldehyde" in block.text
    ]
    assert [(line.verdict, line.word) for line in lines] == [
        ("over", "above the action level"),
        ("cannot tell", "cannot tell"),
    ]


def test_a_comparison_with_an_action_level_names_it_in_letter_and_list(hard: SurveyAssessment):
    """W-05 was above the action level of formaldehyde and is open against the limit: two rows, two words."""
    for document in (worker_letter(hard, "W-05", wording(), FACTS), group_posting(hard, "MIX", wording(), FACTS)):
        rows = [row for block in document.blocks if isinstance(block, Table) for row in block.rows]
        levels = [row for row in rows if "action level" in row[-2]]
        assert levels
        assert {row[-1] for row in levels} <= {"above the action level", "below the action level", "cannot tell"}
        assert any(row[-1] == "above the action level" for row in levels)


def test_an_interval_is_said_in_the_readers_language_with_the_same_digits_and_explained(hard: SurveyAssessment):
    """W-08's formaldehyde lies between two ends: one of the two samples was below its reporting limit."""
    for language, between, told in (("en", "to", "lies somewhere between"), ("es", "a", "está entre los dos")):
        words = wording(language)
        letter = worker_letter(hard, "W-08", words, FACTS)
        cells = [words.told(result.result) for result in results_by_worker(hard)["W-08"]]
        assert any(f" {between} " in cell for cell in cells)
        assert set(cells) <= set(letter.texts())
        assert told in said(letter)


def test_a_lost_sample_is_said_to_be_no_clean_air(hard: SurveyAssessment):
    lost = next(shift for shift in hard.shifts if not shift.verdicts)
    assert "does not mean that the air was clean" in said(worker_letter(hard, lost.shift.worker, wording(), FACTS))


def test_letters_read_as_plainly_as_they_must(hard: SurveyAssessment):
    """English: at most eight years of school. Spanish: fairly easy. Substances are counted as one short word."""
    agents = [agent.name for agent in hard.survey.agents.values()]
    for worker in results_by_worker(hard):
        for language in LANGUAGES:
            text = said(worker_letter(hard, worker, wording(language), FACTS))
            for agent in agents:
                text = text.replace(agent, "it")
            if language == "en":
                assert grade(text) <= 8.0, (worker, grade(text))
            else:
                assert ease_in_spanish(text) >= 70.0, (worker, ease_in_spanish(text))


def test_a_posted_list_shows_nobody(hard: SurveyAssessment):
    for group in hard.survey.groups:
        posted = list(group_posting(hard, group, wording(), FACTS).texts())
        for worker in hard.survey.workers.values():
            assert not [text for text in posted if worker.code in text or (worker.job and worker.job in text)]


def test_the_code_of_a_letter_is_on_the_posted_list(hard: SurveyAssessment):
    codes = slip_codes(hard)
    assert len(set(codes.values())) == len(codes)
    worker = next(iter(results_by_worker(hard)))
    group = hard.survey.workers[worker].group
    assert codes[worker] in list(worker_letter(hard, worker, wording(), FACTS).texts())
    assert codes[worker] in list(group_posting(hard, group, wording(), FACTS).texts())


def test_nobody_without_a_result_gets_a_letter(hard: SurveyAssessment):
    with pytest.raises(KeyError, match="no result"):
        worker_letter(hard, "nobody", wording(), FACTS)


@pytest.mark.parametrize("language", LANGUAGES)
def test_pdf_and_docx_hold_the_same_texts(hard: SurveyAssessment, language: str, tmp_path: Path):
    letter = worker_letter(hard, "W-05", wording(language), FACTS)
    path = tmp_path / "letter.pdf"
    path.write_bytes(document_as_pdf(letter))
    printed = whole_text(path)
    opened = docx.Document(io.BytesIO(document_as_docx(letter)))
    written = [paragraph.text for paragraph in opened.paragraphs]
    written += [cell.text for table in opened.tables for row in table.rows for cell in row.cells]
    joined = "".join("".join(written).split())
    for text in letter.texts():
        assert "".join(text.split()) in joined, text
        assert squeezed(text) in printed, text


def test_the_same_letter_gives_the_same_bytes(hard: SurveyAssessment):
    letter = worker_letter(hard, "W-05", wording(), FACTS)
    assert document_as_pdf(letter) == document_as_pdf(letter)
    assert document_as_docx(letter) == document_as_docx(letter)


def texts_of(language: str) -> dict[tuple[str, str], str]:
    data = tomllib.loads(files("lapel.documents").joinpath("words", f"{language}.toml").read_text("utf-8"))
    return {(s, k): text for s, rows in data.items() if isinstance(rows, dict) for k, text in rows.items()}


def names_of(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_a_second_language_says_everything_with_the_same_names(language: str):
    english, other = texts_of("en"), texts_of(language)
    assert english.keys() == other.keys()
    assert not [place for place, text in english.items() if names_of(text) != names_of(other[place])]
    same = [place for place, text in english.items() if text == other[place] and text not in ("–", "HH:mm")]
    assert not [place for place in same if " " in english[place] and "{" not in english[place]]


def test_a_firm_changes_a_text_without_touching_code(hard: SurveyAssessment, tmp_path: Path):
    own = tmp_path / "own.toml"
    own.write_text('[letter]\ntitle = "What you breathed"\n', "utf-8")
    assert worker_letter(hard, "W-05", wording(own=own), FACTS).title == "What you breathed"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[letter]\ntitel = "x"\n', "nobody reads"),
        ("[letter]\ntitle = 3\n", "a text in quotes"),
        ('[letter]\ncontact = "Ask {boss}"\n', "{boss}"),
        ('[letter]\ncontact = "Ask {contact"\n', "without its partner"),
        ("[letter\n", "no TOML"),
    ],
)
def test_a_text_that_cannot_be_used_is_named(text: str, told: str, tmp_path: Path):
    own = tmp_path / "own.toml"
    own.write_text(text, "utf-8")
    with pytest.raises(UnusableWording, match=r"own\.toml") as problem:
        wording(own=own)
    assert told in str(problem.value)


def test_a_language_that_is_not_there_is_said():
    with pytest.raises(UnusableWording, match="one of en, es"):
        wording("tlh")


def test_letters_made_together_are_those_made_one_by_one_and_results_are_read_once(
    hard: SurveyAssessment, monkeypatch: pytest.MonkeyPatch
) -> None:
    shared = everybody(hard)
    alone = [worker_letter(hard, worker, wording(), FACTS) for worker in shared.results]
    posted = group_posting(hard, "MIX", wording(), FACTS)
    monkeypatch.delattr("lapel.documents.worker_results.results_by_worker")
    assert [worker_letter(hard, worker, wording(), FACTS, shared=shared) for worker in shared.results] == alone
    assert group_posting(hard, "MIX", wording(), FACTS, shared=shared) == posted
