"""The report says what was found, first what is grave; PDF, DOCX and open data never disagree in a digit."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import docx
import pikepdf
import pytest

from lapel.assessment.follow_up import JudgedGroup, judged_groups
from lapel.assessment.notification import notification_clocks
from lapel.assessment.results import ShiftResult, SurveyAssessment
from lapel.assessment.survey import assess
from lapel.documents import compose, compose_group
from lapel.documents.blocks import Document, Drawn, Paragraph, Table, VerdictLine, document_as_docx, document_as_pdf
from lapel.documents.letters import LetterFacts, group_posting, worker_letter
from lapel.documents.limit_sentences import bottom_line
from lapel.documents.render import Picture
from lapel.documents.report import (
    Recommendation,
    ReportFacts,
    client_summary,
    proposed,
    survey_report,
)
from lapel.documents.report.group_sections import short_answers
from lapel.documents.wording import LANGUAGES, wording
from lapel.documents.worker_results import results_by_worker
from lapel.exchange.open_data import samples_table
from lapel.exchange.survey_folder import read_survey
from tests.documents.pdf_text import squeezed, whole_text

EXAMPLES = Path(__file__).parents[2] / "examples"
GRAVEST = ("over", "cannot tell", "under")


@pytest.fixture(scope="module")
def hard() -> SurveyAssessment:
    return assess(read_survey(EXAMPLES / "hard"))


@pytest.fixture(scope="module")
def groups(hard: SurveyAssessment) -> tuple[JudgedGroup, ...]:
    return judged_groups(hard)


@pytest.fixture(scope="module")
def facts(hard: SurveyAssessment) -> ReportFacts:
    return ReportFacts(
        texts={"process": "Belts are coated with a phenolic resin.", "weak": "Three days of one autumn."},
        clocks=notification_clocks(hard, calendar="US"),
    )


def docx_text(document: Document) -> str:
    opened = docx.Document(io.BytesIO(document_as_docx(document)))
    texts = [paragraph.text for paragraph in opened.paragraphs]
    texts += [cell.text for table in opened.tables for row in table.rows for cell in row.cells]
    return squeezed("".join(texts))


@pytest.mark.parametrize("language", LANGUAGES)
def test_pdf_and_docx_hold_every_text_of_report_summary_and_list(hard, groups, facts, language: str, tmp_path: Path):
    words = wording(language)
    made = [survey_report(hard, groups, words, facts), client_summary(hard, groups, words, facts)]
    for document in (*made, group_posting(hard, "COAT", words, LetterFacts())):
        path = tmp_path / "document.pdf"
        path.write_bytes(document_as_pdf(document))
        printed, written = whole_text(path), docx_text(document)
        for text in document.texts():
            assert squeezed(text) in printed, text
            assert squeezed(text) in written, text


def test_no_digit_differs_from_the_tables_and_the_open_data(hard, groups, facts):
    """Each result stands in the report with the cell every page shows, and the open data's shown value is in it."""
    texts = set(survey_report(hard, groups, wording(), facts).texts())
    for row in compose.verdict_rows(hard):
        assert {row.average, row.limit, row.share} <= texts
    for row in compose.sample_rows(hard):
        assert {row.volume, row.mass, row.concentration} <= texts
    shown = {row["sampler"] + row["agent"]: row for row in csv.DictReader(io.StringIO(samples_table(hard)))}
    for sample in hard.samples:
        open_row = shown[sample.sampler + sample.agent.key]
        if sample.concentration is not None:
            assert float(open_row["concentration_mg_m3"]) == sample.concentration.value
    for group in groups:
        if group.judgement is not None:
            assert compose_group.belief(group.judgement) in texts


def test_the_gravest_comes_first_and_a_group_is_over_by_its_results_only(hard, groups, facts):
    lines = [block for block in survey_report(hard, groups, wording(), facts).blocks if isinstance(block, VerdictLine)]
    first = [line.verdict for line in lines[: len({v.limit for s in hard.shifts for v in s.verdicts})]]
    assert first == sorted(first, key=GRAVEST.index)
    for group in groups:
        if group.follow_up is not None and group.follow_up.outcome == "over":
            assert any(row.lower > group.question.limit.value for row in group.question.rows) or (
                len(group.question.rows) >= 6
            )


def test_the_first_sentences_say_of_every_agent_how_it_stands_against_the_limits_that_bind(hard, groups, facts):
    """Counted anew from the verdicts: nobody is above a limit that binds here, one action level is passed."""
    line = bottom_line(hard)
    found: dict[str, set[str]] = {}
    for result in (*hard.shifts, *hard.short_terms):
        agent = result.agent if isinstance(result, ShiftResult) else result.sample.agent
        verdicts = [v for v in result.verdicts if v.limit.binding and v.limit.kind != "action level"]
        outcomes = {v.comparison.verdict for v in verdicts} if result.verdicts else {"cannot tell"}
        found.setdefault(agent.name, set()).update(outcomes)
    assert not [agent for agent, outcomes in found.items() if "over" in outcomes]
    passed = [
        v.limit for one in (*hard.shifts, *hard.short_terms) for v in one.verdicts if v.comparison.verdict == "over"
    ]
    assert {limit.value for limit in passed if not limit.binding} == {0.016, 0.1}
    assert line.startswith(
        "No exposure was shown to be above a limit that binds. Not settled for at least one limit that binds: "
    )
    assert (
        "Above a limit that does not bind here: Formaldehyde, 0.016 ppm (US-NIOSH TWA); Formaldehyde, 0.1 ppm "
        "(US-NIOSH ceiling). At least one was above an action level: " in line
    )
    unsettled = line.partition("Not settled for at least one limit that binds: ")[2].partition(".")[0].split(", ")
    assert set(unsettled) == {agent for agent, outcomes in found.items() if "cannot tell" in outcomes}
    for document in (survey_report(hard, groups, wording(), facts), client_summary(hard, groups, wording(), facts)):
        assert str(line) in [block.text for block in document.blocks if isinstance(block, Paragraph)]


def test_what_is_over_a_limit_that_binds_is_named_first(hard):
    """The same exposures, with the limits that are recommended made to bind."""
    raised = [
        replace(shift, verdicts=tuple(replace(v, limit=replace(v.limit, binding=True)) for v in shift.verdicts))
        for shift in hard.shifts
    ]
    line = bottom_line(replace(hard, shifts=tuple(raised)))
    assert line.startswith(
        "At least one exposure was above a limit that binds: Formaldehyde, 0.016 ppm (US-NIOSH TWA). Not settled"
    )
    assert "Formaldehyde" not in line.partition("Below every limit")[2]


def test_where_no_limit_binds_nothing_is_said_to_be_below_one(hard):
    """The same exposures, with every limit made one that is only recommended."""

    def loosened(results):
        return tuple(
            replace(one, verdicts=tuple(replace(v, limit=replace(v.limit, binding=False)) for v in one.verdicts))
            for one in results
        )

    survey = replace(hard.survey, limits=tuple(replace(limit, binding=False) for limit in hard.survey.limits))
    loose = {"survey": survey, "shifts": loosened(hard.shifts), "short_terms": loosened(hard.short_terms)}
    line = bottom_line(replace(hard, **loose))
    assert line.startswith("No exposure was compared with a limit that binds. Above a limit that does not bind here: ")
    assert "No exposure was shown" not in line
    assert "Not settled" not in line
    assert "Below every limit" not in line


def test_a_sentence_about_groups_stands_once_with_every_group_it_holds_for(hard, groups):
    lines = short_answers(groups, wording())
    assert len({line.text.rpartition(": ")[2] for line in lines}) == len(lines) < len(groups)
    named = [name for line in lines for name in line.text.rpartition(": ")[0].split("; ")]
    assert len(named) == len(set(named)) == sum(group.judgement is not None for group in groups)


@pytest.mark.parametrize("language", LANGUAGES)
def test_summary_and_letters_take_one_page(hard, groups, facts, language: str):
    letter = LetterFacts("Health and safety, extension 4411", ("Fit a hood over the head.",), facts.clocks[0].due_on)
    made = [client_summary(hard, groups, wording(language), facts)]
    made += [worker_letter(hard, worker, wording(language), letter) for worker in results_by_worker(hard)]
    for document in made:
        with pikepdf.open(io.BytesIO(document_as_pdf(document))) as opened:
            assert len(opened.pages) == 1, list(document.texts())[:4]


def test_what_only_the_author_knows_is_shown_or_said_to_be_missing(hard, groups, facts):
    texts = list(survey_report(hard, groups, wording(), facts).texts())
    assert "Belts are coated with a phenolic resin." in texts
    assert "Three days of one autumn." in texts
    assert texts.count("Not written yet.") == 2


def test_proposals_are_marked_until_somebody_makes_them_theirs(hard, groups, facts):
    marked = [text for text in survey_report(hard, groups, wording(), facts).texts() if text.endswith("(proposal)")]
    assert len(marked) == len(proposed(groups))
    own = (Recommendation("engineer", "Fit a hood", "it is the source", "Maintenance", date(2027, 1, 15), False),)
    texts = list(survey_report(hard, groups, wording(), replace(facts, recommendations=own)).texts())
    assert "Fit a hood" in texts
    assert "Maintenance" in texts
    assert not [text for text in texts if text.endswith("(proposal)")]


def test_a_picture_of_results_names_the_worker_of_every_row(hard, groups, facts):
    """Two workers with one agent and one limit must not be two rows that read alike."""
    blocks = survey_report(hard, groups, wording(), facts).blocks
    drawn = next(one for one in blocks if isinstance(one, Drawn) and "as shares of their limits" in one.picture.words)
    named = drawn.picture.words.partition(": ")[2].split("; ")
    open_or_over = [v for shift in hard.shifts for v in shift.verdicts if v.comparison.verdict != "under"]
    assert len(named) == len(open_or_over)
    assert all(re.match(r"W-0\d \S", row) for row in named), named
    assert len({row.split(": ")[0] for row in named}) == len(named)
    assert drawn.caption


def test_a_table_in_word_has_its_widths_and_cuts_no_row(hard, groups, facts):
    """Readers that hold to the grid of the table, and not to its cells, see the widths too."""
    report = survey_report(hard, groups, wording(), facts)
    written = [
        table
        for table in docx.Document(io.BytesIO(document_as_docx(report))).tables
        if "tblHeader" in _names(table.rows[0])
    ]
    meant = [block for block in report.blocks if isinstance(block, Table)]
    assert len(written) == len(meant) > 3
    for table, block in zip(written, meant, strict=True):
        grid = [column.width.mm / 170.0 for column in table.columns]
        assert grid == pytest.approx([width / sum(block.widths) for width in block.widths], abs=0.001)
        assert all("cantSplit" in _names(row) for row in table.rows)


def _names(row) -> set[str]:
    marks = row._tr.trPr
    return set() if marks is None else {mark.tag.rpartition("}")[2] for mark in marks}


LOGO = Picture(
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 10"><rect width="40" height="10"/></svg>', "Logo"
)


@pytest.mark.parametrize("logo", [None, LOGO], ids=["plain", "logo"])
@pytest.mark.parametrize("stated", [True, False], ids=["own recommendations", "proposals"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_summary_is_one_page(hard, groups, facts, language, stated, logo):
    said = replace(facts if stated else ReportFacts(), logo=logo)
    made = document_as_pdf(client_summary(hard, groups, wording(language), said))
    with pikepdf.open(io.BytesIO(made)) as pdf:
        assert len(pdf.pages) == 1
        assert str(pdf.Root.Lang).startswith(language)


def test_the_report_in_spanish_has_its_own_headings(hard, groups, facts):
    texts = list(survey_report(hard, groups, wording("es"), facts).texts())
    assert "Qué dicen los resultados de cada grupo" in texts
    assert "What the results say of each group" not in texts


def test_the_same_report_gives_the_same_bytes(hard, groups, facts):
    report = survey_report(hard, groups, wording(), facts)
    assert document_as_pdf(report) == document_as_pdf(report)
    assert document_as_docx(report) == document_as_docx(report)


def test_a_small_clean_survey_has_a_report_without_findings():
    small = assess(read_survey(EXAMPLES / "small"))
    report = survey_report(small, judged_groups(small), wording(), ReportFacts())
    assert document_as_pdf(report).startswith(b"%PDF")
    assert "The rule book sets no days. Tell every worker without delay." in list(report.texts())
