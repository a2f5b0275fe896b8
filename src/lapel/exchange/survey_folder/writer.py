"""Writing a survey folder: whole or not at all, and read back before anybody is told that it is there."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from lapel.assessment.inputs import Survey
from lapel.exchange.problems import InputProblem, InputProblems, Place
from lapel.exchange.survey_folder.folder import read_survey
from lapel.exchange.survey_folder.log_chains import Ranges
from lapel.exchange.survey_folder.writer_check import differences
from lapel.exchange.survey_folder.writer_laboratory import Delivered, write_laboratory
from lapel.exchange.survey_folder.writer_log import log_files
from lapel.exchange.survey_folder.writer_tables import table_text, tables_of
from lapel.exchange.survey_folder.writer_toml import survey_document

NOT_WHILE_PLANNED = frozenset({"shifts.csv", "samples.csv"})
"""Tables that have rows once a survey's samples are ordered, and are left out before."""


@dataclass(frozen=True, slots=True)
class PlanPart:
    """
    The folder `plan` of a survey folder.

    `texts` are its files; `differences` reads a folder's plan back and names what is otherwise than on record, and
    raises InputProblems where it cannot be planned.
    """

    texts: Mapping[str, str]
    differences: Callable[[Path], tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Written:
    """
    A folder that was written.

    Attributes
    ----------
    path : Path
        The folder.
    rewritten_reports : tuple of str
        Laboratory reports whose results were corrected since, or whose file was not kept: they stand in our own
        columns, what was delivered in ``laboratory/as-delivered``.
    problems : tuple of InputProblem
        What keeps the folder from being assessed, such as a survey that has no samples yet.
    differences : tuple of str
        What a reader of the folder finds otherwise than it is on record; empty for all that came from a folder.
    """

    path: Path
    rewritten_reports: tuple[str, ...]
    problems: tuple[InputProblem, ...]
    differences: tuple[str, ...]

    @property
    def is_whole(self) -> bool:
        """Whether the folder can be read and says all that is on record."""
        return not self.problems and not self.differences


def write_survey(
    survey: Survey,
    folder: str | Path,
    *,
    delivered: Mapping[str, Delivered] | None = None,
    elsewhere: Mapping[str, Ranges] | None = None,
    plan: PlanPart | None = None,
) -> Written:
    """
    Write a survey as a folder of files that people can read, and read it back.

    Parameters
    ----------
    survey : Survey
        From a folder or from records.
    folder : str or Path
        Where; it must not be there yet, or be empty.
    delivered : mapping of str to Delivered, optional
        Laboratory files as they came, by report.
    elsewhere : mapping of str to Ranges, optional
        By device, the sequences of its chain that stand in other surveys' logs.
    plan : PlanPart, optional
        The folder `plan`. Before anything is ordered the tables of shifts and samples, which say nothing then, are
        left out.

    Returns
    -------
    Written

    Raises
    ------
    InputProblems
        Something stands in that place already, or it cannot be written to. Nothing was written.

    Notes
    -----
    Files are made in a folder beside the wanted one, which takes its name only when all of them are on disk.
    """
    target = Path(folder)
    _refuse_taken(target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as problem:
        raise _unwritable(target, problem) from problem
    try:
        rewritten = _write(survey, made, delivered or {}, elsewhere or {}, plan)
        problems, found = _read_back(survey, made, plan)
        made.chmod(0o755)
        if target.exists():
            target.rmdir()
        made.rename(target)
    except OSError as problem:
        raise _unwritable(target, problem) from problem
    finally:
        shutil.rmtree(made, ignore_errors=True)
    return Written(target, rewritten, problems, found)


def _write(
    survey: Survey,
    root: Path,
    delivered: Mapping[str, Delivered],
    elsewhere: Mapping[str, Ranges],
    plan: PlanPart | None,
) -> tuple[str, ...]:
    texts = {"survey.toml": survey_document(survey)}
    texts |= {table.file: table_text(table.columns, rows) for table, rows in tables_of(survey)}
    texts |= log_files(survey.entries, elsewhere)
    if plan is not None:
        texts |= plan.texts
        if is_planned_only(survey):
            texts = {name: text for name, text in texts.items() if name not in NOT_WHILE_PLANNED}
    for name, text in texts.items():
        path = root / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="")
    rewritten = write_laboratory(root, survey, delivered)
    for path in root.rglob("*"):
        if path.is_file():
            with path.open("rb") as file:
                os.fsync(file.fileno())
    return rewritten


def is_planned_only(survey: Survey) -> bool:
    """Whether nothing is ordered, recorded or delivered yet."""
    return not (survey.shifts or survey.orders or survey.entries or survey.reports or survey.overrides)


def _read_back(survey: Survey, root: Path, plan: PlanPart | None) -> tuple[tuple[InputProblem, ...], tuple[str, ...]]:
    found: tuple[str, ...] = ()
    try:
        if plan is not None:
            found = plan.differences(root)
        if plan is None or not is_planned_only(survey):
            found = (*differences(survey, read_survey(root)), *found)
    except InputProblems as problems:
        return problems.problems, ()
    return (), found


def _refuse_taken(target: Path) -> None:
    if target.is_dir() and not any(target.iterdir()):
        return
    if target.exists() or target.is_symlink():
        raise InputProblems(
            [
                InputProblem(
                    Place(str(target)),
                    "something in that place already",
                    "the name of a folder that is not there yet",
                    "Choose another name; nothing is ever written over. Nothing was written.",
                )
            ]
        )


def _unwritable(target: Path, problem: OSError) -> InputProblems:
    reason = problem.strerror or type(problem).__name__
    return InputProblems(
        [
            InputProblem(
                Place(str(target)),
                f"a place that cannot be written to ({reason})",
                "a folder on a disk with room, where you may write",
                "Choose another place. Nothing was written.",
            )
        ]
    )
