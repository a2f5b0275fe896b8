"""What the plan's tables must say of each other: who and what a question is about, and all it needs to be planned."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from lapel.assessment.inputs import Method, Pump
from lapel.assessment.plan_inputs import OfferedShift, PlanInputs, Question
from lapel.exchange.plan_folder import layout
from lapel.exchange.problems import Faults, InputProblem, Place, did_you_mean, quoted

FULL_SHIFT = "full shift"


def check_agreement(parts: Mapping[str, Any], *, seed: str, area_class: str, faults: Faults) -> None:
    """
    Note every fault that only shows when the tables are read together.

    Parameters
    ----------
    parts : mapping
        What was read, by the names of `PlanInputs`.
    seed : str
        Seed of the draw, empty where none is given.
    area_class : str
        The site's explosive-area class.
    faults : Faults
    """
    _something_of_each(parts, faults)
    for question in parts["questions"]:
        _question(question, parts, seed, faults)
    _asked_twice(parts["questions"], parts, faults)
    _shifts_alike(parts["shifts"], parts, faults)
    _words_known(parts, faults)
    for pump in parts["pumps"].values():
        _pump(pump, faults)
    if parts["splitters"] and (
        parts["splitter_terms"].port_min_lpm is None or parts["splitter_terms"].port_max_lpm is None
    ):
        faults.add(
            Place(layout.PLAN.file, None, "splitter.port_min"),
            "no flow window of the ports",
            "the lowest and highest flow a port of the splitters holds",
            "Add splitter.port_min, splitter.port_max and splitter.flow_unit.",
        )
    areas = {terms.area_class for terms in parts["worker_terms"].values()} | {area_class}
    _areas(areas - {""}, parts, faults)


def problems_of(inputs: PlanInputs) -> tuple[InputProblem, ...]:
    """
    Return everything that keeps a plan from being made of what is on record, as the reader of a folder would say it.

    Parameters
    ----------
    inputs : PlanInputs
        With origins as in a folder.
    """
    faults = Faults()
    parts = {part.name: getattr(inputs, part.name) for part in fields(inputs)}
    check_agreement(parts, seed=inputs.seed, area_class=inputs.site.area_class, faults=faults)
    return faults.problems


def _something_of_each(parts: Mapping[str, Any], faults: Faults) -> None:
    """Nothing can be planned without a question, a shift, a technician and a pump."""
    already = {problem.where.file for problem in faults.problems}
    for name, file, wanted in (
        ("questions", layout.WANTED.file, "at least one question"),
        ("shifts", layout.DAYS.file, "the shifts on offer"),
        ("technicians", layout.TECHNICIANS.file, "who hangs the pumps"),
        ("pumps", "equipment/pumps.csv", "at least one pump"),
    ):
        if not parts[name] and file not in already:
            faults.add(Place(file), "no rows", wanted, "Add at least one.")


def _at(question: Question, column: str) -> Place:
    file, _, row = question.origin.rpartition(", row ")
    return Place(file, int(row), column)


def _question(question: Question, parts: Mapping[str, Any], seed: str, faults: Faults) -> None:
    def fault(column: str, found: str, wanted: str, remedy: str) -> None:
        faults.add(_at(question, column), found, wanted, remedy)

    if bool(question.group) == bool(question.worker):
        found = "group and worker both" if question.group else "neither group nor worker"
        fault("group", found, "a group, or one worker", "Fill in one of the two.")
        return
    members = {code for code, worker in parts["workers"].items() if worker.group == question.group}
    if question.group and not members:
        fault("group", f"{quoted(question.group)}, in which nobody works", "a group with workers", "Fill workers.csv.")
    if question.purpose != "full shift" and question.minutes is None and question.purpose == "task":
        fault("minutes", "an empty cell", "how long the task takes", "A task is sampled from its start to its end.")
    if question.purpose == "full shift" and question.minutes is not None:
        fault("minutes", f"{question.minutes:g}", "an empty cell: plan/days.csv says how long", "Empty it.")
    if question.results is not None and question.test is not None:
        fault("test", "results and a test both", "one of the two", "Give a number, or let the test decide it.")
    if question.test is not None:
        for column in ("assumed_gm_share", "assumed_gsd"):
            if getattr(question, column) is None:
                fault(column, "an empty cell", "what is assumed of the group, for the test", "Fill it in, and say why.")
    if question.who == "named" and not question.named:
        fault("named", "an empty cell", "the workers by code", "Name them, or let them be drawn.")
    if question.who == "draw" and question.group and not seed:
        fault("who", "a draw, and no seed in plan/plan.toml", "a recorded seed", "Add `seed` before anything is drawn.")
    strangers = [code for code in question.named if question.group and code not in members]
    if strangers:
        fault("named", ", ".join(strangers), f"workers of group {question.group}", "Correct the codes or the group.")
    _methods(question, parts, faults)
    _limits(question, parts, faults)


def methods_for(question: Question, methods: Mapping[str, Method]) -> list[Method]:
    """Methods a question may use, in the order of methods.csv."""
    return [
        method
        for method in methods.values()
        if method.agent == question.agent and (not question.methods or method.code in question.methods)
    ]


def _methods(question: Question, parts: Mapping[str, Any], faults: Faults) -> None:
    wrong = [c for c in question.methods if c in parts["methods"] and parts["methods"][c].agent != question.agent]
    if wrong:
        faults.add(_at(question, "methods"), ", ".join(wrong), f"methods for {question.agent}", "Correct the codes.")
        return
    usable = methods_for(question, parts["methods"])
    if not usable:
        faults.add(
            _at(question, "agent"),
            f"{quoted(question.agent)}, for which methods.csv has no method",
            "an agent with a method",
            "Add the method with its window as the laboratory states it.",
        )
    for method in usable:
        terms = parts["laboratory_terms"].get(method.code)
        missing = [
            word
            for word, value in (
                ("flow_min and flow_max", method.flow_min_lpm and method.flow_max_lpm),
                ("reporting_limit", method.reporting_limit_ug or (terms and terms.reporting_limit_ug)),
            )
            if not value
        ]
        if missing:
            file, _, row = method.origin.rpartition(", row ")
            faults.add(
                Place(file, int(row), missing[0].split(" ")[0]),
                f"method {method.code} without {' and '.join(missing)}",
                "what a window is computed from",
                "Ask the laboratory and fill it in; nothing is assumed.",
            )
        if terms is None:
            faults.add(
                Place(layout.PLAN_LABORATORY.file),
                f"no row for method {method.code}, which {question.code} may use",
                "the laboratory and how it desorbs, a row a method",
                "Add the row: it decides what may share a sampler.",
            )


def _limits(question: Question, parts: Mapping[str, Any], faults: Faults) -> None:
    kinds = {"full shift": ("TWA",), "short term": ("STEL", "ceiling"), "task": ("TWA", "STEL", "ceiling")}
    wanted = kinds[question.purpose]
    if not any(limit.agent == question.agent and limit.kind in wanted for limit in parts["limits"]):
        faults.add(
            _at(question, "agent"),
            f"{quoted(question.agent)} without a limit of kind {' or '.join(wanted)}",
            "a limit the sample is compared with",
            "Add it to limits.csv with its source and date; `lapel scope` lists the packaged ones.",
        )


def _asked_twice(questions: tuple[Question, ...], parts: Mapping[str, Any], faults: Faults) -> None:
    """Refuse two questions that want the same of one worker: nobody could tell which number counts."""
    first: dict[tuple[str, str, str, str], str] = {}
    for question in questions:
        group = question.group
        workers = (
            [question.worker]
            if question.worker
            else list(question.named) or [code for code, worker in parts["workers"].items() if worker.group == group]
        )
        for worker in workers:
            key = (worker, question.agent, question.purpose, question.task if question.purpose != FULL_SHIFT else "")
            if key in first and first[key] != question.code:
                faults.add(
                    _at(question, "agent"),
                    f"{question.agent}, {question.purpose}, which {first[key]} wants of {worker} already",
                    "one question about an agent, a purpose and a worker",
                    "Merge the two rows, or name another task.",
                )
                break
            first[key] = question.code


def _shifts_alike(shifts: tuple[OfferedShift, ...], parts: Mapping[str, Any], faults: Faults) -> None:
    """A worker is planned for one pattern of shift."""
    asked = {q.group or parts["workers"][q.worker].group for q in parts["questions"]
             if q.group or q.worker in parts["workers"]}  # fmt: skip
    for group in sorted(asked):
        mine = {shift.day: shift for shift in shifts if not shift.group}
        mine |= {shift.day: shift for shift in shifts if shift.group == group}
        patterns = sorted({(shift.start_min, shift.minutes) for shift in mine.values()})
        if shifts and not mine:
            faults.add(Place(layout.DAYS.file), f"no shift of group {group}", "a day on which it works", "Add a row.")
        if len(patterns) > 1:
            words = ", ".join(f"{a // 60:02d}:{a % 60:02d} for {m / 60:g} h" for a, m in patterns)
            faults.add(
                Place(layout.DAYS.file),
                f"shifts of group {group} that differ ({words})",
                "one start and one length of a group's shifts in a plan",
                "Make a group of each shift: their exposures differ as well.",
            )


def _words_known(parts: Mapping[str, Any], faults: Faults) -> None:
    media = {lot.medium for lot in parts["media_lots"].values()}
    for medium, terms in parts["medium_terms"].items():
        if media and medium not in media:
            file, _, row = terms.origin.rpartition(", row ")
            faults.add(
                Place(file, int(row), "medium"),
                quoted(medium),
                "a medium that stands in media.csv",
                did_you_mean(medium, media) + "Use the same words in both.",
            )
    days = {shift.day for shift in parts["shifts"]}
    for who in (*parts["technicians"], *parts["worker_terms"].values()):
        for day in who.away_on:
            if days and day not in days:
                file, _, row = who.origin.rpartition(", row ")
                faults.add(Place(file, int(row), "away_on"), day, "a day of plan/days.csv", "Correct the day.")


def _pump(pump: Pump, faults: Faults) -> None:
    if not pump.flow_min_lpm or pump.flow_max_lpm is None:
        file, _, row = pump.origin.rpartition(", row ")
        faults.add(
            Place(file, int(row), "flow_min"),
            f"pump {pump.code} without its lowest and highest flow",
            "both, above 0",
            "Write what it holds, as measured or as its papers say; a plan cannot use it otherwise.",
        )


def _areas(areas: set[str], parts: Mapping[str, Any], faults: Faults) -> None:
    known = {accepted.area_class for accepted in parts["accepted_areas"]}
    certificates = {pump.area_certificate for pump in parts["pumps"].values()} - {""}
    for area in sorted(areas - known):
        faults.add(
            Place(layout.AREAS.file),
            f"no row for the area class {quoted(area)}",
            "which pump certificate a named person accepts for it",
            "Add the row, or plan no sampling there: the program does not decide it.",
        )
    for accepted in parts["accepted_areas"]:
        if accepted.area_certificate not in certificates:
            faults.add(
                Place(layout.AREAS.file),
                quoted(accepted.area_certificate),
                "a certificate that stands in equipment/pumps.csv",
                did_you_mean(accepted.area_certificate, certificates) + "Use the same words in both.",
            )
