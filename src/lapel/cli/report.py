"""
Write what people are told of a survey.

The survey report and its one-page summary, the calculation record, a letter to every worker and a posted list for every
group: PDF, and DOCX to go on writing in. Whatever only a person knows is left open and said to be open.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from lapel.cli.exits import DONE, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.exchange.problems import InputProblems
from lapel.reference import UnusableFileError

if TYPE_CHECKING:
    from lapel.assessment.results import SurveyAssessment
    from lapel.documents.blocks import Document
    from lapel.documents.wording import Wording

Told = Callable[[str, int, int], None]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="survey folder")
    parser.add_argument("into", metavar="INTO", type=Path, help="folder to write into; it must not be there yet")
    parser.add_argument("--rules", metavar="BOOK", help="decide by this rule book (key or file) instead of its own")
    parser.add_argument("--language", metavar="CODE", default="en", help="language of the texts: en, es")
    parser.add_argument(
        "--words", metavar="FILE", type=Path, help="the firm's own texts, in place of the packaged ones"
    )
    parser.add_argument("--logo", metavar="FILE", type=Path, help="the firm's logo, SVG or PNG, on the first pages")
    parser.add_argument("--contact", metavar="TEXT", default="", help="whom workers may ask")
    parser.add_argument(
        "--action", metavar="TEXT", action="append", default=[], help="what will be done; may be repeated"
    )
    parser.add_argument("--calendar", metavar="CODE", default="", help="public holidays: US, US-WA, GB-ENG, ES …")
    parser.add_argument("--completed", metavar="DAY", type=date.fromisoformat, help="day the assessment was completed")


def execute(options: argparse.Namespace) -> int:
    """Write all documents; 2 when nothing was written."""
    from lapel.assessment.notification import UnknownCalendar
    from lapel.cli import terminal
    from lapel.cli.assess import assessed
    from lapel.documents.logo import UnusableLogo
    from lapel.documents.wording import UnusableWording

    into: Path = options.into
    if into.exists():
        say(f"{into} is there already; name a folder that is not. Nothing was written.")
        return UNUSABLE
    try:
        with terminal.progress(False) as told:
            assessment = assessed(options.folder, options.rules, told)
            written = _write(assessment, options, told or (lambda what, done, total: None))
    except (InputProblems, UnusableFileError) as problems:
        show_faults(problems)
        return UNUSABLE
    except (UnusableWording, UnknownCalendar, UnusableLogo) as problem:
        say(f"{problem}. Nothing was written.")
        return UNUSABLE
    terminal.output().print(f"{written} documents are in {into}. Read them before you hand them out.")
    return DONE


def _write(assessment: SurveyAssessment, options: argparse.Namespace, told: Told) -> int:
    """Make everything in a folder beside the wanted one, which takes its name only when all of it is there."""
    from lapel.documents.assessment_record import assessment_record
    from lapel.documents.blocks import document_as_docx, document_as_pdf
    from lapel.documents.wording import wording

    words = wording(options.language, own=options.words)
    documents = list(_documents(assessment, words, options, told))
    into: Path = options.into
    into.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{into.name}-", dir=into.parent) as beside:
        made = Path(beside) / into.name
        made.mkdir()
        for done, (name, document) in enumerate(documents):
            told("writing the documents", done, len(documents))
            (made / f"{name}.pdf").write_bytes(document_as_pdf(document))
            (made / f"{name}.docx").write_bytes(document_as_docx(document))
        (made / "calculation-record.pdf").write_bytes(assessment_record(assessment, words, progress=told))
        made.rename(into)
    return 2 * len(documents) + 1


def _documents(
    assessment: SurveyAssessment, words: Wording, options: argparse.Namespace, told: Told
) -> Iterator[tuple[str, Document]]:
    from lapel.assessment.follow_up import judged_groups
    from lapel.assessment.notification import first_due, notification_clocks, results_received_on
    from lapel.documents.file_names import plain_names
    from lapel.documents.letters import LetterFacts, group_posting, worker_letter
    from lapel.documents.logo import firm_logo
    from lapel.documents.report import ReportFacts, client_summary, survey_report
    from lapel.documents.worker_results import everybody, posted_groups

    clocks = notification_clocks(assessment, completed_on=options.completed, calendar=options.calendar)
    groups = judged_groups(assessment, progress=told)
    logo = firm_logo(options.logo) if options.logo else None
    facts = ReportFacts(clocks=clocks, logo=logo)
    yield "survey-report", survey_report(assessment, groups, words, facts, progress=told)
    yield "summary", client_summary(assessment, groups, words, facts)
    letter = LetterFacts(
        contact=options.contact,
        actions=tuple(options.action),
        received_on=results_received_on(assessment.survey),
        due_on=first_due(clocks),
        logo=logo,
    )
    shared = everybody(assessment)
    workers, posted = list(shared.results), posted_groups(assessment)
    names = plain_names([*(f"letter-{code}" for code in workers), *(f"posted-{code}" for code in posted)])
    for name, code in zip(names, workers, strict=False):
        yield name, worker_letter(assessment, code, words, letter, shared=shared)
    for name, code in zip(names[len(workers) :], posted, strict=True):
        yield name, group_posting(assessment, code, words, letter, shared=shared)
