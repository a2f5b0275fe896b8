"""Reading the plan's tables of a survey folder: all is checked, and every fault told, before anything is used."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta, tzinfo
from pathlib import Path
from typing import Any

from lapel.assessment.inputs import Survey
from lapel.assessment.plan_inputs import (
    AcceptedArea,
    CrewTimes,
    LaboratoryTerms,
    MediumTerms,
    OfferedShift,
    PlanInputs,
    Product,
    Question,
    Rates,
    SplitterTerms,
    Technician,
    WorkerTerms,
)
from lapel.exchange.plan_folder import layout as plan_layout
from lapel.exchange.plan_folder.agreement import check_agreement
from lapel.exchange.problems import Faults, InputProblems, Place, did_you_mean, quoted
from lapel.exchange.survey_folder import equipment, layout, orders, people
from lapel.exchange.survey_folder.columns import Table
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.packaged import packaged_limits
from lapel.exchange.survey_folder.tables import DocumentValues, Known, Row, read_document, read_table
from lapel.reference import PACKAGED

_SHORTEST_SHIFT, _LONGEST_SHIFT = timedelta(minutes=10), timedelta(hours=24)


class PlanFolder:
    """
    One reading of a survey folder for its plan; `known` holds the codes of its tables, for what is read after it.

    Raises
    ------
    InputProblems
        With every fault of every file. Nothing is kept of a folder with a fault.
    """

    def __init__(self, path: str | Path) -> None:
        self.root = Path(path)
        self.faults = Faults()
        self.known: Known = {}
        self.zone: tzinfo | None = None
        self.document: DocumentValues | None = None
        self._files = FolderFiles(self.root, self.faults)
        inputs = self._read()
        self.faults.raise_any()
        if inputs is None:  # pragma: no cover - without inputs there is always a fault
            raise InputProblems([])
        self.inputs: PlanInputs = inputs

    def _table(self, table: Table) -> list[Row]:
        return read_table(self._files, table, self.known, self.zone)

    def _read(self) -> PlanInputs | None:
        if not self.root.is_dir():
            self.faults.add(
                Place(str(self.root)),
                "no such folder",
                "a survey folder with survey.toml and a folder “plan”",
                "Check the path; `examples/plan` is one that works.",
            )
            return None
        survey = read_document(self._files, layout.SURVEY.file, layout.SURVEY)
        self.document = survey
        self.zone = people.zone_of(survey, self.faults) if survey else None
        parts = self._shared_parts()
        plan = read_document(self._files, plan_layout.PLAN.file, plan_layout.PLAN)
        parts.update(self._plan_parts())
        self._unknown_files()
        if plan is not None:
            parts.update(terms_of(plan, self.faults))
        if survey is None or plan is None:
            return None
        seed = plan["seed"] or ""
        check_agreement(parts, seed=seed, area_class=survey["site.area_class"] or "", faults=self.faults)
        if self.faults.count:
            return None
        return PlanInputs(
            title=survey["title"],
            purpose=survey["purpose"],
            prepared_by=survey["prepared_by"],
            made_on=survey["assessed_on"],
            site=people.site_of(survey, self.faults),
            strategy=plan["strategy"],
            seed=seed,
            notes=people.notes_of(survey, self.faults) | people.notes_of(plan, self.faults),
            plan_notes=people.notes_of(plan, self.faults),
            input_sha256=self._files.input_sha256(),
            **parts,
        )

    def _shared_parts(self) -> dict[str, Any]:
        faults = self.faults
        parts: dict[str, Any] = {
            "groups": people.groups_of(self._table(layout.GROUPS)),
            "workers": people.workers_of(self._table(layout.WORKERS)),
            "agents": orders.agents_of(self._table(layout.AGENTS)),
        }
        limits = self._table(layout.LIMITS)
        packaged = packaged_limits() if any(row["reference"] for row in limits) else {}
        parts["limits"] = orders.limits_of(limits, packaged, parts["agents"], faults)
        media = self._table(layout.MEDIA)
        parts["media_lots"] = orders.media_lots_of(media)
        parts["methods"] = orders.methods_of(self._table(layout.METHODS), {row["medium"] for row in media}, faults)
        parts["pumps"] = equipment.pumps_of(self._table(layout.PUMPS), faults)
        parts["splitters"] = equipment.splitters_of(self._table(layout.SPLITTERS))
        return parts

    def _plan_parts(self) -> dict[str, Any]:
        faults = self.faults
        return {
            "questions": questions_of(self._table(plan_layout.WANTED)),
            "shifts": shifts_of(self._table(plan_layout.DAYS), faults),
            "technicians": tuple(
                Technician(row["code"], days_in(row, "away_on", faults), row.origin)
                for row in self._table(plan_layout.TECHNICIANS)
            ),
            "worker_terms": {
                row["worker"]: WorkerTerms(
                    row["worker"],
                    row["area_class"] or "",
                    row["pumps_at_once"],
                    row["days_at_most"],
                    days_in(row, "away_on", faults),
                    row.origin,
                )
                for row in self._table(plan_layout.PLAN_WORKERS)
            },
            "medium_terms": {
                row["medium"]: MediumTerms(row["medium"], row["cost"], row["pack"], row["loss_kpa_per_lpm"], row.origin)
                for row in self._table(plan_layout.PLAN_MEDIA)
            },
            "laboratory_terms": {row["method"]: _laboratory(row) for row in self._table(plan_layout.PLAN_LABORATORY)},
            "accepted_areas": tuple(
                AcceptedArea(row["area_class"], row["area_certificate"], row["accepted_by"])
                for row in self._table(plan_layout.AREAS)
            ),
            "products": tuple(
                Product(
                    row["code"],
                    row["name"],
                    row["task"] or "",
                    tuple(row["groups"] or ()),
                    tuple(row["agents"] or ()),
                    row["source"] or "",
                    row.origin,
                )
                for row in self._table(plan_layout.PRODUCTS)
            ),
        }

    def _unknown_files(self) -> None:
        known = {table.file for table in (*plan_layout.PLAN_TABLES, plan_layout.TRAINS)} | {plan_layout.PLAN.file}
        for ending in (".csv", ".toml", ".xlsx"):
            for name in self._files.names("plan", ending):
                if name not in known:
                    self.faults.add(
                        Place(name),
                        "a file that is no part of a plan",
                        "only files the reference page of the plan's tables lists",
                        did_you_mean(name, known) + "Rename it, or move it elsewhere; nothing is left out unnoticed.",
                    )


def is_planned_only(root: Path) -> bool:
    """Whether a folder holds a plan and nothing was ordered or recorded yet."""
    later = ("samples.csv", "shifts.csv", "log", "laboratory")
    return (root / "plan").is_dir() and not any((root / name).exists() for name in later)


def survey_before_its_samples(folder: PlanFolder) -> Survey:
    """
    Return the survey a folder plans, before anything is ordered: without shifts, samples, log and results.

    Raises
    ------
    InputProblems
        Its rule book is not known, or its meters cannot be read.
    """
    document, inputs, faults = folder.document, folder.inputs, Faults()
    assert document is not None  # there are inputs
    for key in ("rule_book", "compared_rule_books"):
        named = document[key]
        for book in (named,) if isinstance(named, str) else named or ():
            if book not in PACKAGED:
                remedy = did_you_mean(book, PACKAGED) + "Name a packaged rule book."
                faults.add(Place(layout.SURVEY.file, None, key), quoted(book), ", ".join(PACKAGED), remedy)
    files = FolderFiles(folder.root, faults)
    table = replace(layout.METERS, needed=False)
    meters = equipment.meters_of(read_table(files, table, {}, folder.zone), faults)
    notes = people.notes_of(document, faults)
    faults.raise_any()
    return Survey(
        title=inputs.title,
        site=inputs.site,
        rule_book=document["rule_book"],
        compared_rule_books=tuple(document["compared_rule_books"] or ()),
        assessed_on=inputs.made_on,
        purpose=inputs.purpose,
        prepared_by=inputs.prepared_by,
        groups=inputs.groups,
        workers=inputs.workers,
        shifts={},
        agents=inputs.agents,
        limits=inputs.limits,
        methods=inputs.methods,
        media_lots=inputs.media_lots,
        pumps=inputs.pumps,
        splitters=inputs.splitters,
        meters=meters,
        orders={},
        reports={},
        results=(),
        entries=(),
        input_sha256=inputs.input_sha256,
        notes=notes,
    )


def read_plan(path: str | Path) -> PlanInputs:
    """
    Read what a survey folder says of its plan.

    Parameters
    ----------
    path : str or Path
        The folder with survey.toml and the folder `plan`; see docs/reference/plan-tables.md.

    Returns
    -------
    PlanInputs

    Raises
    ------
    InputProblems
        With every fault of every file.
    """
    return PlanFolder(path).inputs


def questions_of(rows: Iterable[Row]) -> tuple[Question, ...]:
    """Return what is wanted, row by row."""
    return tuple(
        Question(
            code=row["code"],
            agent=row["agent"],
            purpose=row["purpose"],
            group=row["group"] or "",
            worker=row["worker"] or "",
            methods=tuple(row["methods"] or ()),
            minutes=row["minutes"],
            task=row["task"] or "",
            see_share=_share(row["see_share_percent"]),
            least_share=_share(row["least_share_percent"]) or 1.0,
            samplers_max=row["samplers_max"],
            others_mg_m3=row["others"],
            who=row["who"],
            named=tuple(row["named"] or ()),
            results=row["results"],
            test=row["test"],
            chance=_share(row["chance_percent"]) or 0.8,
            assumed_gm_share=row["assumed_gm_share"],
            assumed_gsd=row["assumed_gsd"],
            why=row["why"] or "",
            origin=row.origin,
        )
        for row in rows
    )


def shifts_of(rows: Sequence[Row], faults: Faults) -> tuple[OfferedShift, ...]:
    """Return the shifts on offer; ends before starts and repeated days are faults."""
    shifts: dict[tuple[str, str], OfferedShift] = {}
    for row in rows:
        shift = OfferedShift(row["start"], row["end"], row["group"] or "", row.origin)
        if not _SHORTEST_SHIFT <= shift.end - shift.start <= _LONGEST_SHIFT:
            faults.add(
                row.place("end"),
                f"a shift of {shift.minutes / 60:.4g} h",
                "an end 10 minutes to 24 hours after the start",
                "Correct start or end; a shift past midnight ends on the next date.",
            )
        elif (shift.day, shift.group) in shifts:
            faults.add(
                row.place("start"),
                f"a second shift on {shift.day}{f' for {shift.group}' if shift.group else ''}",
                "one shift a day for a group",
                "A group that works in two shifts is two groups: their exposures differ.",
            )
        else:
            shifts[shift.day, shift.group] = shift
    if not rows and not faults.count:
        faults.add(Place(plan_layout.DAYS.file), "no rows", "the shifts on offer", "Add at least one row.")
    return tuple(shifts.values())


def days_in(row: Row, column: str, faults: Faults) -> tuple[str, ...]:
    """Return the days a cell lists; what is no day is a fault."""
    days = []
    for text in row[column] or ():
        try:
            days.append(date.fromisoformat(text).isoformat())
        except ValueError:
            faults.add(row.place(column), quoted(text), "days as in 2026-06-02", "Write year-month-day.")
    return tuple(days)


def terms_of(plan: DocumentValues, faults: Faults) -> dict[str, Any]:
    """Return what plan.toml says of splitters, crew, rates, labels and air."""
    terms: dict[str, Any] = {
        "splitter_terms": SplitterTerms(
            plan["splitter.port_min"],
            plan["splitter.port_max"],
            plan["splitter.main_flow"],
            plan["splitter.suction_kpa"],
            plan["splitter.droop_kpa_per_lpm"] or 0.0,
            plan["splitter.may_cap"] is not False,
        ),
        "rates": Rates(plan["cost.currency"] or "units", plan["cost.technician_day"], plan["cost.pump_day"]),
        "label_prefix": plan["label_prefix"] or "S",
        "air_temperature_k": plan["air.temperature"],
        "air_humidity_percent": plan["air.humidity_percent"],
        "duplicates_share": _share(plan["duplicates_percent"]) or 0.0,
        "spares_share": _share(plan["spares_percent"]) or 0.0,
    }
    crew = {name: plan[f"crew.{name}"] for name in CrewTimes.__dataclass_fields__}
    terms["crew"] = CrewTimes(**{name: value for name, value in crew.items() if value is not None})
    for name in ("hang_min", "check_every_min"):
        if crew[name] == 0:
            faults.add(plan.place(f"crew.{name}"), "0", "at least 1 minute", "Write how long it takes.")
    low, high = plan["splitter.port_min"], plan["splitter.port_max"]
    if low is not None and high is not None and low > high:
        faults.add(plan.place("splitter.port_max"), "port_max below port_min", "port_min at most port_max", "Correct.")
    if (plan["splitter.suction_kpa"] is None) != (plan["splitter.main_flow"] is None):
        missing = "suction_kpa" if plan["splitter.suction_kpa"] is None else "main_flow"
        faults.add(
            plan.place(f"splitter.{missing}"),
            "nothing",
            "the controller's suction and the pump's main flow together, or neither",
            "Add it, or take the other away: without a controller the pump holds the total of its ports.",
        )
    return terms


def _laboratory(row: Row) -> LaboratoryTerms:
    return LaboratoryTerms(
        method=row["method"],
        laboratory=row["laboratory"],
        desorption=row["desorption"],
        shared_analysis=row["shared_analysis"] or "",
        cost=row["cost"],
        reporting_limit_ug=row["reporting_limit"],
        breakthrough_l=row["breakthrough"],
        tested_humidity_percent=row["tested_humidity_percent"],
        source=row["source"] or "",
        origin=row.origin,
    )


def _share(percent: float | None) -> float | None:
    return None if percent is None else percent / 100.0
