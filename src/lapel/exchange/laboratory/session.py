"""One report read for one survey: proposal, reconciliation, suspicion and assessment, together and in this order."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from lapel.assessment.inputs import LaboratoryReport, LaboratoryResult, Survey
from lapel.assessment.laboratory_letter import laboratory_letter
from lapel.assessment.reconcile import Reconciliation, accepted_results, reconcile, sent_samplers
from lapel.assessment.report_versions import Difference, differences
from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.assessment.swap_inputs import swap_samples
from lapel.assessment.swaps import Suspicion, suspected_swaps
from lapel.assessment.volumes import volumes_of
from lapel.exchange.laboratory.accepted import report_of
from lapel.exchange.laboratory.expectations import expected_of
from lapel.exchange.laboratory.proposal import Proposal, propose
from lapel.exchange.laboratory.report_map import ReportMap
from lapel.exchange.laboratory.sheets import LaboratoryFile
from lapel.fieldlog.day import fold
from lapel.reference import rule_book

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class ReadReport:
    """
    A report as it stands before anybody has accepted it.

    Attributes
    ----------
    reconciliation, report, results, lost, changes, suspicions, assessment
        Empty or None while questions about the file itself are open.
    lost : tuple of (str, str, str)
        Sampler, agent, and why the laboratory has no result.
    changes : tuple of Difference
        Against the version of this report that is there already.
    assessment : SurveyAssessment or None
        Of the survey with this report in it; None where nobody asked for it.
    letter : str
        Questions for the laboratory, ready to send; empty where there is none.
    """

    survey: Survey
    proposal: Proposal
    reconciliation: Reconciliation | None = None
    report: LaboratoryReport | None = None
    results: tuple[LaboratoryResult, ...] = ()
    lost: tuple[tuple[str, str, str], ...] = ()
    changes: tuple[Difference, ...] = ()
    replaces: str = ""
    suspicions: tuple[Suspicion, ...] = ()
    assessment: SurveyAssessment | None = None
    letter: str = ""

    @property
    def is_settled(self) -> bool:
        """Whether it may be accepted."""
        return self.proposal.is_settled and self.reconciliation is not None and self.reconciliation.is_settled

    @property
    def has_findings(self) -> bool:
        """Whether a person must look at something."""
        matters = self.reconciliation.matters if self.reconciliation else ()
        standing = self.assessment is not None and any(
            sample.standing.level != "sound" for sample in self.assessment.samples if sample.result is not None
        )
        return bool(self.changes or self.suspicions) or any(m.weight != "note" for m in matters) or standing


def read_report(
    survey: Survey,
    file: LaboratoryFile,
    report_map: Mapping[str, Any],
    *,
    amends: str = "",
    validate: bool = True,
    suspect: bool | None = None,
    progress: Progress | None = None,
) -> ReadReport:
    """
    Read a delivered file for a survey, hold it against what was sent, and look for what cannot be right.

    Parameters
    ----------
    survey : Survey
        With the reports it has already.
    file : LaboratoryFile
        As `lapel.exchange.laboratory.read_content` gave it.
    report_map : mapping
        What is decided already.
    amends : str
        Number of the report this one replaces, where its own number is another.
    validate : bool
        Whether to assess the survey with this report in it.
    suspect : bool, optional
        Whether to look for exchanged samples; as `validate` where nothing is said.

    Returns
    -------
    ReadReport
        Nothing is written.
    """
    tell = progress or (lambda _what, _done, _total: None)
    tell("reading the field log", 0, len(survey.entries))
    day = fold(survey.entries)
    proposal = propose(file, expected_of(survey, day.blanks), report_map, progress=tell)
    if not proposal.results:
        return ReadReport(survey, proposal)
    book = rule_book(survey.rule_book)
    volumes = volumes_of(survey, day, book, progress=tell)
    sent = sent_samplers(survey, day, volumes)
    replaces = amends or (proposal.facts.code if proposal.facts.code in survey.reports else "")
    others = [row for row in survey.results if row.report != replaces]
    own: Mapping[str, Any] = report_map.get("report", {})
    reconciled = reconcile(
        proposal.results,
        sent,
        survey,
        confirmed=own.get("samplers", {}),
        ignored=own.get("ignored_samplers", ()),
        already={row.sampler for row in others},
        duplicates=proposal.duplicates,
        progress=tell,
    )
    results, lost = accepted_results(proposal.facts.code, proposal.results, reconciled.matches)
    suspicions: tuple[Suspicion, ...] = ()
    if validate if suspect is None else suspect:
        mine = {row.sampler for row in results}
        suspicions = suspected_swaps(swap_samples(survey, day, [*others, *results], volumes, only=mine), progress=tell)
    letter = laboratory_letter(
        reconciled.matters,
        report=proposal.facts.code,
        laboratory=proposal.facts.laboratory,
        sender=survey.prepared_by,
        further=[suspicion.question() for suspicion in suspicions],
    )
    before = [row for row in survey.results if row.report == replaces] if replaces else []
    report = report_of(proposal.facts, proposal) if proposal.is_settled else None
    assessment = None
    if validate and report is not None:
        assessment = assess(with_report(survey, report, results, replaces), progress=tell)
    return ReadReport(
        survey,
        proposal,
        reconciled,
        report,
        results,
        lost,
        differences(before, results) if replaces else (),
        replaces,
        suspicions,
        assessment,
        letter,
    )


def with_report(
    survey: Survey, report: LaboratoryReport, results: tuple[LaboratoryResult, ...], replaces: str = ""
) -> Survey:
    """Return a survey with one report more, or with one exchanged for its new version."""
    reports = {code: known for code, known in survey.reports.items() if code != replaces}
    kept = tuple(row for row in survey.results if row.report != replaces)
    return replace(survey, reports={**reports, report.code: report}, results=(*kept, *results))


def confirmed_near(read: ReadReport) -> ReportMap:
    """Return the map with every near-match that was shown confirmed."""
    changed: ReportMap = dict(read.proposal.report_map)
    own = dict(changed.get("report", {}))
    near = read.reconciliation.near if read.reconciliation else ()
    own["samplers"] = {**own.get("samplers", {}), **{match.printed: match.sampler for match in near}}
    changed["report"] = own
    return changed
