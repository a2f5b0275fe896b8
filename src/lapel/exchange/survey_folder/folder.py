"""Reading a survey folder: everything is checked before anything is used."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from lapel.assessment.inputs import Survey
from lapel.exchange.problems import Faults, InputProblem, InputProblems, Place, did_you_mean, quoted
from lapel.exchange.survey_folder import equipment, layout, orders, people
from lapel.exchange.survey_folder.columns import Table
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.laboratory import Results, read_laboratory
from lapel.exchange.survey_folder.log import read_log
from lapel.exchange.survey_folder.log_checks import LogContext
from lapel.exchange.survey_folder.log_layout import BLANKS, log_tables
from lapel.exchange.survey_folder.packaged import packaged_limits
from lapel.exchange.survey_folder.tables import DocumentValues, Known, Row, read_document, read_table
from lapel.reference import PACKAGED

Progress = Callable[[str], None]
"""Called with what is being read now, in words for people."""


def read_survey(path: str | Path, *, progress: Progress | None = None) -> Survey:
    """
    Read a survey folder.

    Parameters
    ----------
    path : str or Path
        The folder with survey.toml; its layout is described in docs/reference/survey-folder.md.
    progress : callable, optional
        Called with a few words before each part.

    Returns
    -------
    Survey
        Everything in canonical units, with the place each thing was read from, and the hash of all files read.

    Raises
    ------
    InputProblems
        With every fault of every file. Nothing is kept of a folder with a fault.
    """
    faults = Faults()
    with _collector_paused():
        survey = _Reading(Path(path), faults, progress or (lambda _words: None)).survey()
    faults.raise_any()
    if survey is None:  # pragma: no cover - without a survey there is always a fault
        raise InputProblems([])
    return survey


def check_survey_folder(path: str | Path, *, progress: Progress | None = None) -> tuple[InputProblem, ...]:
    """
    Return the faults of a survey folder, sorted by place; empty when it can be assessed.

    Parameters
    ----------
    path : str or Path
        The folder with survey.toml.
    progress : callable, optional
        As of `read_survey`.
    """
    try:
        read_survey(path, progress=progress)
    except InputProblems as problems:
        return problems.problems
    return ()


@contextmanager
def _collector_paused() -> Iterator[None]:
    """Pause the search for reference cycles: reading makes none, and it costs a quarter of the time of a large log."""
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


class _Reading:
    """One reading of one folder, in the order in which parts refer to each other."""

    def __init__(self, root: Path, faults: Faults, progress: Progress) -> None:
        self._root = root
        self._faults = faults
        self._progress = progress
        self._files = FolderFiles(root, faults)
        self._known: Known = {}

    def survey(self) -> Survey | None:
        """Read all parts; `None` where not even the survey itself can be made out."""
        if not self._root.is_dir():
            self._faults.add(
                Place(str(self._root)),
                "no such folder",
                "a folder with survey.toml",
                "Check the path; `examples/small` is a folder that works.",
            )
            return None
        self._progress("survey and equipment")
        document = read_document(self._files, layout.SURVEY.file, layout.SURVEY)
        parts = self._plan(document)
        self._progress("field log")
        parts["entries"] = tuple(self._log(document, parts))
        self._progress("laboratory")
        results = self._laboratory(parts)
        parts.update(reports=results.reports, results=tuple(results.results))
        self._unknown_files()
        self._rule_books(document)
        self._days(document, results)
        return None if document is None or self._faults.count else self._whole(document, parts, results)

    def _table(self, table: Table) -> list[Row]:
        return read_table(self._files, table, self._known, self._zone)

    def _plan(self, document: DocumentValues | None) -> dict[str, Any]:
        faults = self._faults
        self._zone = people.zone_of(document, faults) if document else None
        parts: dict[str, Any] = {
            "site": people.site_of(document, faults) if document else None,
            "notes": people.notes_of(document, faults) if document else {},
            "groups": people.groups_of(self._table(layout.GROUPS)),
            "workers": people.workers_of(self._table(layout.WORKERS)),
            "shifts": people.shifts_of(self._table(layout.SHIFTS), faults),
            "agents": orders.agents_of(self._table(layout.AGENTS)),
        }
        limits = self._table(layout.LIMITS)
        packaged = packaged_limits() if any(row["reference"] for row in limits) else {}
        parts["limits"] = orders.limits_of(limits, packaged, parts["agents"], faults)
        media = self._table(layout.MEDIA)
        parts["media_lots"] = orders.media_lots_of(media)
        parts["methods"] = orders.methods_of(self._table(layout.METHODS), {row["medium"] for row in media}, faults)
        parts["orders"] = orders.orders_of(self._table(layout.SAMPLES), parts["methods"], faults)
        parts["overrides"] = orders.overrides_of(self._table(layout.OVERRIDES))
        parts["pumps"] = equipment.pumps_of(self._table(layout.PUMPS), faults)
        parts["splitters"] = equipment.splitters_of(self._table(layout.SPLITTERS))
        parts["meters"] = equipment.meters_of(self._table(layout.METERS), faults)
        return parts

    def _log(self, document: DocumentValues | None, parts: Mapping[str, Any]) -> list[Any]:
        context = LogContext(
            zone=self._zone,
            field_author=(document["field_author"] or "") if document else "not read",
            assessed_on=document["assessed_on"] if document else None,
            shifts=parts["shifts"],
            splitters=parts["splitters"],
            media_lots=parts["media_lots"],
        )
        return read_log(self._files, self._known, context)

    def _laboratory(self, parts: Mapping[str, Any]) -> Results:
        samplers, blanks = self._known.get(layout.SAMPLES.file), self._known.get(BLANKS) or set()
        methods = parts["methods"]
        ordered = {
            code: {methods[method].agent for method in order.methods if method in methods}
            for code, order in parts["orders"].items()
        }
        return read_laboratory(
            self._files,
            samplers=None if samplers is None else samplers | blanks,
            agents=self._known.get(layout.AGENTS.file),
            ordered=ordered,
        )

    def _unknown_files(self) -> None:
        known = {table.file for table in layout.TABLES} | {layout.SURVEY.file}
        known |= {table.file for table in log_tables().values()}
        for under in ("", "equipment", "log"):
            endings = (".csv", ".toml", ".xlsx") if under == "log" else (".csv", ".toml", ".xlsx", ".jsonl")
            for ending in endings:
                for name in self._files.names(under, ending):
                    if name not in known:
                        self._faults.add(
                            Place(name),
                            "a file that is no part of a survey folder",
                            "only files the reference page lists",
                            did_you_mean(name, known)
                            + "Rename it, or move it elsewhere; nothing is left out unnoticed.",
                        )

    def _rule_books(self, document: DocumentValues | None) -> None:
        for key in ("rule_book", "compared_rule_books"):
            named = document[key] if document else None
            for book in (named,) if isinstance(named, str) else named or ():
                if book not in PACKAGED:
                    self._faults.add(
                        Place(layout.SURVEY.file, None, key),
                        quoted(book),
                        "one of " + ", ".join(PACKAGED),
                        did_you_mean(book, PACKAGED)
                        + "Name a packaged rule book; your own is given with the option --rules.",
                    )

    def _days(self, document: DocumentValues | None, results: Results) -> None:
        """Refuse days of the laboratory that lie after the day the assessment refers to."""
        assessed = document["assessed_on"] if document else None
        if assessed is None:
            return
        for report in results.reports.values():
            if report.received_on is not None and report.received_on > assessed:
                self._faults.add(
                    Place(report.origin, None, "received_on"),
                    f"{report.received_on}, after the survey was assessed on {assessed}",
                    "a day before it",
                    "Correct the day here, or assessed_on in survey.toml.",
                )

    def _whole(self, document: DocumentValues, parts: Mapping[str, Any], results: Results) -> Survey:
        parts = dict(parts)
        parts["notes"] |= results.not_analysed
        return Survey(
            title=document["title"],
            rule_book=document["rule_book"],
            compared_rule_books=document["compared_rule_books"] or (),
            assessed_on=document["assessed_on"],
            purpose=document["purpose"],
            prepared_by=document["prepared_by"],
            input_sha256=self._files.input_sha256(),
            **parts,
        )
