"""
A settled report taken into a survey folder: its results in our own columns, the file as it came, and the map beside.

All of it appears at once or not at all: a new laboratory part is built beside the old one, read back, held against what
was meant, and only then put in its place.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from lapel.assessment.inputs import LaboratoryReport, LaboratoryResult, Survey
from lapel.assessment.report_versions import Difference, differences
from lapel.exchange.laboratory.accepted_files import (
    acceptance,
    map_with_facts,
    one_line,
    report_document,
    results_table,
)
from lapel.exchange.laboratory.proposal import Proposal
from lapel.exchange.laboratory.report_facts import ReportFacts
from lapel.exchange.laboratory.report_map import map_text, remembered
from lapel.exchange.problems import Faults, InputProblem, InputProblems, Place
from lapel.exchange.survey_folder.files_beside import ACCEPTED, EARLIER, FOLDER, MAP, earlier_text
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.laboratory import read_laboratory
from lapel.exchange.survey_folder.writer_log import file_names
from lapel.figures.units import canonical

LAYOUTS = "layouts"
AS_DELIVERED = "as-delivered"


@dataclass(frozen=True, slots=True)
class Accepted:
    """
    What was written.

    Attributes
    ----------
    files : tuple of str
        Places in the folder.
    version : int
        1, or more for an amended report.
    changes : tuple of Difference
        Against the version before.
    """

    files: tuple[str, ...]
    version: int
    changes: tuple[Difference, ...]


def layout_name(laboratory: str) -> str:
    """Return the file name under which a laboratory's map is remembered."""
    return f"{file_names([laboratory or 'laboratory'], taken=())[laboratory or 'laboratory'].lower()}.json"


def report_of(facts: ReportFacts, proposal: Proposal) -> LaboratoryReport:
    """
    Return the report a settled proposal makes.

    Raises
    ------
    InputProblems
        A fact that every report needs is not known.
    """
    unknown = [name for name in ("code", "laboratory", "received_on", "recovery_corrected_by", "blank_corrected_by")
               if not getattr(facts, name)]  # fmt: skip
    if unknown:
        raise InputProblems(
            [InputProblem(Place(proposal.file.name, None, name), "nothing", "an answer", "Answer the question.")
             for name in unknown]
        )  # fmt: skip
    warm = facts.receipt_temperature
    unit = facts.receipt_temperature_unit or "°C"
    return LaboratoryReport(
        code=facts.code,
        laboratory=facts.laboratory,
        received_on=facts.received_on,
        file=proposal.file.name,
        sha256=proposal.file.sha256,
        samples_received_on=facts.samples_received_on,
        receipt_temperature_k=canonical(warm, unit, "temperature") if warm else None,
        recovery_corrected_by="laboratory" if facts.recovery_corrected_by == "laboratory" else "nobody",
        blank_corrected_by="laboratory" if facts.blank_corrected_by == "laboratory" else "nobody",
    )


def accept(
    root: Path,
    survey: Survey,
    proposal: Proposal,
    content: bytes,
    results: Sequence[LaboratoryResult],
    lost: Sequence[tuple[str, str, str]] = (),
    *,
    amends: str = "",
    confirmed_by: str = "",
) -> Accepted:
    """
    Write a settled report into a survey folder.

    Parameters
    ----------
    root : Path
        The survey folder.
    survey : Survey
        As read from it.
    proposal : Proposal
        Settled: no question is open.
    content : bytes
        The delivered file.
    results, lost : sequence
        As `lapel.assessment.reconcile.accepted_results` gave them.
    amends : str
        Number of the report this one replaces, where it has another number of its own.
    confirmed_by : str
        Who confirmed it.

    Raises
    ------
    InputProblems
        A question is open, the report would make the folder unusable, or what was written does not read back as meant.
        The folder is then as it was.
    """
    if proposal.questions:
        asked = [InputProblem(Place(proposal.file.name, None, question.key), "an open question", question.asks,
                              "Answer it; nothing was written.") for question in proposal.questions]  # fmt: skip
        raise InputProblems(asked)
    report = report_of(proposal.facts, proposal)
    _check_days(report, survey)
    replaced = _replaced(report, survey, amends)
    staging = Path(tempfile.mkdtemp(prefix=".results-", dir=root))
    try:
        staged = staging / FOLDER
        if (root / FOLDER).is_dir():
            shutil.copytree(root / FOLDER, staged)
        else:
            staged.mkdir()
        stem, version = _put_aside(staged, replaced, report, survey)
        before = [row for row in survey.results if replaced is not None and row.report == replaced.code]
        changes = differences(before, results) if replaced is not None else ()
        written = _write(staged, stem, version, report, proposal, content, results, lost, changes, confirmed_by)
        _check(staging, report, results, survey)
        _put_in_place(root, staged)
    finally:
        shutil.rmtree(staging, ignore_errors=True)
    return Accepted(tuple(f"{FOLDER}/{name}" for name in written), version, changes)


def _check_days(report: LaboratoryReport, survey: Survey) -> None:
    if report.received_on is not None and report.received_on > survey.assessed_on:
        raise InputProblems(
            [
                InputProblem(
                    Place("survey.toml", None, "assessed_on"),
                    f"{survey.assessed_on}, before the report came on {report.received_on}",
                    "a day on which the report was there",
                    "Move assessed_on to the day the assessment now refers to. Nothing was written.",
                )
            ]
        )


def _replaced(report: LaboratoryReport, survey: Survey, amends: str) -> LaboratoryReport | None:
    """Return the report this one is a new version of."""
    if amends and amends not in survey.reports:
        known = ", ".join(survey.reports) or "none"
        raise InputProblems(
            [InputProblem(Place("--amends"), f"“{amends}”", f"the number of a report that is there: {known}",
                          "Name the report that is replaced.")]
        )  # fmt: skip
    return survey.reports.get(amends or report.code)


def _put_aside(
    staged: Path, replaced: LaboratoryReport | None, report: LaboratoryReport, survey: Survey
) -> tuple[str, int]:
    """Move the version before out of the way, whole; return the new one's stem and number."""
    taken = {path.stem.casefold() for path in staged.iterdir() if path.is_file()}
    if replaced is None:
        return file_names([report.code], taken=taken)[report.code], 1
    document_path = staged / PurePosixPath(replaced.origin).name
    file_path = staged / PurePosixPath(replaced.file).name
    stem = document_path.stem
    beside = staged / AS_DELIVERED / stem
    beside.mkdir(parents=True, exist_ok=True)
    version = 2 + sum(1 for path in beside.glob("version-*") if path.is_dir())
    older = beside / f"version-{version - 1}"
    older.mkdir()
    for path in [*beside.iterdir()]:
        if path.is_file():
            path.rename(older / path.name)
    shared = any(other.code != replaced.code and other.file == replaced.file for other in survey.reports.values())
    for path in (document_path, file_path):
        if shared and path == file_path:
            shutil.copy2(path, older / path.name)
        elif path.exists():
            target = older / path.name
            path.rename(target if not target.exists() else older / f"as-read-{path.name}")
    kept = older / file_path.name
    if not (older / ACCEPTED).exists() and kept.is_file():
        note = earlier_text(report=replaced.code, version=version - 1, file=kept.name, content=kept.read_bytes())
        (older / EARLIER).write_text(note, encoding="utf-8")
    return stem, version


def _write(
    staged: Path,
    stem: str,
    version: int,
    report: LaboratoryReport,
    proposal: Proposal,
    content: bytes,
    results: Sequence[LaboratoryResult],
    lost: Sequence[tuple[str, str, str]],
    changes: Sequence[Difference],
    confirmed_by: str,
) -> list[str]:
    beside = staged / AS_DELIVERED / stem
    beside.mkdir(parents=True, exist_ok=True)
    delivered = PurePosixPath(proposal.file.name).name
    as_delivered = f"{AS_DELIVERED}/{stem}/{delivered}"
    layouts = staged / LAYOUTS
    layouts.mkdir(exist_ok=True)
    said = map_with_facts(proposal)
    layout = f"{LAYOUTS}/{layout_name(report.laboratory)}"
    files: dict[str, bytes] = {
        f"{stem}.csv": results_table(results, lost, proposal.results).encode("utf-8"),
        f"{stem}.toml": report_document(report, f"{stem}.csv", as_delivered, version, bool(lost)).encode("utf-8"),
        as_delivered: content,
        f"{AS_DELIVERED}/{stem}/{MAP}": map_text(said).encode("utf-8"),
        f"{AS_DELIVERED}/{stem}/{ACCEPTED}": acceptance(report, proposal, version, changes, confirmed_by).encode(
            "utf-8"
        ),
        layout: map_text(remembered(said)).encode("utf-8"),
    }
    for name, body in files.items():
        (staged / name).write_bytes(body)
    return sorted(files)


def _check(staging: Path, report: LaboratoryReport, results: Sequence[LaboratoryResult], survey: Survey) -> None:
    """Read back what was written: it must say what was meant, and nothing in the folder may be unreadable."""
    faults = Faults()
    ordered = {
        code: {survey.methods[method].agent for method in order.methods} for code, order in survey.orders.items()
    }
    read = read_laboratory(FolderFiles(staging, faults), samplers=None, agents=set(survey.agents), ordered=ordered)
    faults.raise_any()
    back = [_bare(row) for row in read.results if row.report == report.code]
    if back != [_bare(row) for row in results]:
        off = [(a, b) for a, b in zip(back, map(_bare, results), strict=False) if a != b][:1]
        raise InputProblems(
            [InputProblem(Place(FOLDER), f"results that do not read back as meant ({off})", "the same results",
                          "Nothing was written. This is a fault of the program: please report it with the file.")]
        )  # fmt: skip


def _bare(row: LaboratoryResult) -> LaboratoryResult:
    return replace(row, origin="", medium=one_line(row.medium), remark=one_line(row.remark))


def _put_in_place(root: Path, staged: Path) -> None:
    """Exchange the laboratory part for the new one; what was there is put back should that fail."""
    place, older = root / FOLDER, staged.parent / "before"
    had_one = place.exists()
    if had_one:
        place.rename(older)
    try:
        staged.rename(place)
    except OSError:
        if had_one:
            older.rename(place)
        raise
