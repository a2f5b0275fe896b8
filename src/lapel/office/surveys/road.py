"""Where a survey stands on its road, what is next, and what is missing: plain rules on plain counts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

Place = Literal["done", "here", "left open", "ahead"]
NAMED = 6
"""How many codes a line names before it counts the rest."""


@dataclass(frozen=True, slots=True)
class RoadFacts:
    """What is on record for a survey, as far as its road depends on it; codes in the order of the survey."""

    groups: int = 0
    workers: int = 0
    agents: tuple[str, ...] = ()
    agents_with_limit: frozenset[str] = frozenset()
    limits: int = 0
    limits_without_source: int = 0
    questions: int = 0
    planned_days: int = 0
    planned_trains: int = 0
    shifts: int = 0
    ordered: tuple[str, ...] = ()
    agents_ordered: frozenset[str] = frozenset()
    trains_prepared: frozenset[str] = frozenset()
    trains_closed: frozenset[str] = frozenset()
    trains_started: frozenset[str] = frozenset()
    trains_running: tuple[str, ...] = ()
    trains_after: frozenset[str] = frozenset()
    fitted: frozenset[str] = frozenset()
    blanks: frozenset[str] = frozenset()
    parcels: int = 0
    parcelled: frozenset[str] = frozenset()
    handed_over: int = 0
    reports: int = 0
    with_results: frozenset[str] = frozenset()
    refused: int = 0
    lifted: int = 0
    meters_past_due: tuple[str, ...] = ()
    recommended: int = 0
    open_comments: int = 0
    signed_by_author: bool = False
    signed_by_reviewer: bool = False
    changed_since_signed: bool = False
    texts_missing: int = 0
    with_shift_results: frozenset[str] = frozenset()
    told: frozenset[str] = frozenset()


@dataclass(slots=True)
class Stage:
    """
    One stage of the road.

    `standing` says what is there, `missing` what keeps the stage from being done, `remarks` what to know besides.
    `place`, `page` and `asides`, links by their words, are set by who puts the road together.
    """

    key: str
    title: str
    purpose: str
    standing: str
    missing: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    begun: bool = False
    place: Place = "ahead"
    page: str = ""
    until_built: str = ""
    asides: list[tuple[str, str]] = field(default_factory=list)


def road(facts: RoadFacts) -> list[Stage]:
    """
    Put the eight stages in order and find where the survey is.

    Returns
    -------
    list of Stage
        The first stage with something missing is “here”; one passed by, with later ones begun, is “left open”.
        Nothing is locked: a stage ahead can be worked on.
    """
    stages = [
        _scope(facts),
        _plan(facts),
        _prepare(facts),
        _field(facts),
        _dispatch(facts),
        _results(facts),
        _judge(facts),
        _report(facts),
    ]
    last_begun = max((number for number, stage in enumerate(stages) if stage.begun), default=0)
    here = False
    for number, stage in enumerate(stages):
        if not stage.missing:
            stage.place = "done"
        elif number < last_begun:
            stage.place = "left open"
        elif not here:
            stage.place, here = "here", True
    return stages


def _scope(facts: RoadFacts) -> Stage:
    bare = [agent for agent in facts.agents if agent not in facts.agents_with_limit]
    stage = Stage(
        "scope",
        "Scope",
        "Who may be exposed to what, and which limits count.",
        f"{counted(len(facts.agents), 'agent')}, {counted(facts.limits, 'limit')}; on the site "
        f"{counted(facts.workers, 'worker')} in {counted(facts.groups, 'group')}.",
        begun=bool(facts.agents),
    )
    if not facts.agents:
        stage.missing.append("No agent is chosen.")
    if bare:
        stage.missing.append(f"No limit is chosen for {named(bare)}.")
    if not facts.workers:
        stage.missing.append("The site has no workers.")
    if facts.limits_without_source:
        words = counted(facts.limits_without_source, "limit")
        stage.remarks.append(f"{words} without a source: every verdict against it will say so.")
    return stage


def _plan(facts: RoadFacts) -> Stage:
    unordered = [agent for agent in facts.agents if agent not in facts.agents_ordered]
    stage = Stage(
        "plan",
        "Plan",
        "Which samples are taken, on whom, by which method, for how long.",
        f"{_planned(facts)}{counted(len(facts.ordered), 'sample')} ordered on {counted(facts.shifts, 'shift')}.",
        begun=bool(facts.ordered or facts.questions or facts.planned_trains),
    )
    if facts.planned_trains and not facts.ordered:
        stage.missing.append("The samples of the plan are not ordered yet.")
    elif facts.questions and not facts.ordered:
        stage.missing.append("Nothing is planned yet for what is asked.")
    elif not facts.ordered:
        stage.missing.append("Nothing is asked yet, and no sample is ordered.")
    elif unordered:
        stage.missing.append(f"No sample is ordered for {named(unordered)}.")
    return stage


def _planned(facts: RoadFacts) -> str:
    if not (facts.questions or facts.planned_trains):
        return ""
    trains = counted(facts.planned_trains, "train")
    on = f" on {counted(facts.planned_days, 'day')}" if facts.planned_days else ""
    return f"{counted(facts.questions, 'question')}, {trains} planned{on}; ".capitalize()


def _prepare(facts: RoadFacts) -> Stage:
    unclosed = sorted((facts.trains_prepared | facts.trains_started) - facts.trains_closed)
    stage = Stage(
        "prepare",
        "Prepare",
        "Trains put together, every port set, then the closing round on all ports.",
        f"{counted(len(facts.trains_prepared), 'train')} prepared, {len(facts.trains_closed)} with a closing round.",
        begun=bool(facts.trains_prepared),
        until_built="The page to prepare trains is not built yet.",
    )
    if not facts.trains_prepared:
        stage.missing.append("No train is prepared.")
    if unclosed:
        stage.missing.append(f"No closing round on {named(unclosed)}.")
    if facts.meters_past_due and not facts.trains_started:
        stage.remarks.append(f"Certificate past its date: {named(facts.meters_past_due)}. Set no flow with it.")
    return stage


def _field(facts: RoadFacts) -> Stage:
    unfitted = [sampler for sampler in facts.ordered if sampler not in facts.fitted]
    unread = sorted(facts.trains_started - facts.trains_after - set(facts.trains_running))
    stage = Stage(
        "field",
        "Field",
        "Pumps started, checked and stopped; flows read again afterwards.",
        f"{_share(len(facts.ordered) - len(unfitted), len(facts.ordered), 'sampler')} fitted, "
        f"{counted(len(facts.trains_started), 'train')} started.",
        begun=bool(facts.fitted or facts.trains_started),
        until_built="The page of the live day is not built yet.",
    )
    if not facts.ordered or len(unfitted) == len(facts.ordered):
        stage.missing.append("No sampler was fitted yet.")
    elif unfitted:
        stage.missing.append(f"Never fitted: {named(unfitted)}.")
    if facts.trains_running:
        stage.missing.append(f"Running, as far as recorded: {named(facts.trains_running)}.")
    if unread:
        stage.missing.append(f"Flows not read after the run: {named(unread)}.")
    if facts.refused:
        words = counted(facts.refused, "entry", "entries")
        stage.missing.append(f"{words} the log refused, to be settled by a person.")
    return stage


def _dispatch(facts: RoadFacts) -> Stage:
    loose = sorted((facts.fitted | facts.blanks) - facts.parcelled)
    stage = Stage(
        "dispatch",
        "Dispatch",
        "Samples and blanks sealed, cooled where needed, handed over with their custody.",
        f"{counted(facts.parcels, 'parcel')} sealed, {counted(len(facts.blanks), 'blank')} opened, "
        f"{counted(facts.handed_over, 'hand-over')} recorded.",
        begun=bool(facts.parcels),
        until_built="The page of parcels and custody is not there.",
    )
    if not facts.parcels:
        stage.missing.append("No parcel is sealed.")
    elif loose:
        stage.missing.append(f"In no parcel: {named(loose)}.")
    if facts.parcels and not facts.handed_over:
        stage.missing.append("No hand-over is recorded.")
    if not facts.blanks and facts.fitted:
        stage.remarks.append("No blank was opened.")
    return stage


def _results(facts: RoadFacts) -> Stage:
    waiting = [sampler for sampler in facts.ordered if sampler not in facts.with_results]
    stage = Stage(
        "results",
        "Results",
        "What the laboratory delivered, held against what was sent.",
        f"Results for {_share(len(facts.ordered) - len(waiting), len(facts.ordered), 'sample')} in "
        f"{counted(facts.reports, 'report')}.",
        begun=bool(facts.reports),
        until_built="The page to bring in a report is not there.",
    )
    if not facts.with_results:
        stage.missing.append("No result is here yet.")
    elif waiting:
        stage.missing.append(f"No result for {named(waiting)}.")
    return stage


def _judge(facts: RoadFacts) -> Stage:
    lifted = f" {counted(facts.lifted, 'finding')} lifted by a person, with the reason." if facts.lifted else ""
    stage = Stage(
        "judge",
        "Judge",
        "Every exposure against its limit, shift by shift and group by group, with how sure that is.",
        f"{_signed(facts)}{lifted}",
        begun=bool(facts.recommended or facts.open_comments or facts.signed_by_author),
        until_built="The page to judge is not there.",
    )
    if not facts.signed_by_author:
        stage.missing.append("Nobody has signed it as author." if facts.with_results else "Nothing to judge yet.")
    if facts.open_comments:
        stage.missing.append(f"{counted(facts.open_comments, 'question')} of the review not answered.")
    if facts.signed_by_author and not facts.signed_by_reviewer:
        stage.missing.append("Nobody has signed it as reviewer.")
    if facts.changed_since_signed:
        stage.remarks.append("Something was changed since it was signed. The signatures show whether a figure moved.")
    return stage


def _signed(facts: RoadFacts) -> str:
    if not facts.with_results:
        return "No figure can be worked out yet."
    who = [
        role for role, there in (("author", facts.signed_by_author), ("reviewer", facts.signed_by_reviewer)) if there
    ]
    return f"Signed as {' and as '.join(who)}." if who else "Figures can be worked out; nothing is signed."


def _report(facts: RoadFacts) -> Stage:
    left = sorted(facts.with_shift_results - facts.told)
    stage = Stage(
        "report",
        "Report",
        "What people are told: the report, a letter to each worker, and by when.",
        f"{_to_be_done(facts.recommended)}; "
        f"{_share(len(facts.with_shift_results) - len(left), len(facts.with_shift_results), 'worker')} told.",
        begun=bool(facts.told or facts.recommended),
        until_built="The page of the report is not there.",
    )
    if facts.texts_missing:
        stage.missing.append(f"{counted(facts.texts_missing, 'own text')} of the report not written.")
    if not facts.recommended:
        stage.missing.append("Nobody has written what is to be done.")
    if left:
        stage.missing.append(f"Still to be told: {named(left)}.")
    elif not facts.with_shift_results:
        stage.missing.append("Nobody has a result to be told of.")
    return stage


def _to_be_done(number: int) -> str:
    if not number:
        return "Nothing that is to be done is written down yet"
    return f"{counted(number, 'recommendation')} written down"


def counted(number: int, one: str, many: str = "") -> str:
    """Say a number with its noun: “1 sample”, “26 samples”, “no samples”."""
    return f"{number or 'no'} {one if number == 1 else many or one + 's'}"


def named(codes: Sequence[str]) -> str:
    """Name the first few codes and count the others: “S-1, S-2 and 3 more”."""
    return "".join(_named(codes))


def _named(codes: Sequence[str]) -> Iterator[str]:
    shown = codes if len(codes) <= NAMED else codes[: NAMED - 1]
    yield ", ".join(shown)
    if len(codes) > len(shown):
        yield f" and {len(codes) - len(shown)} more"


def _share(part: int, whole: int, noun: str) -> str:
    return f"{part} of {whole} {noun if whole == 1 else noun + 's'}"
