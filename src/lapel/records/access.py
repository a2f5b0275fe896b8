"""
Who may do what: the only way from a request to a record.

There is one function for each kind of record. Each takes the person, what identifies the record, and what the person
wants to do with it, and gives the record or nothing: for a stranger to the site it does not exist (404), and a member
whose role is not enough is told so (403). Being an administrator of the server opens no records.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Literal, TypeAlias, TypeVar

from django.contrib.auth.models import AnonymousUser, User
from django.core.exceptions import PermissionDenied
from django.db.models import Model, QuerySet
from django.http import Http404

from lapel.records.models import (
    Agent,
    CustodyForm,
    DeliveredFile,
    Device,
    DevicePairing,
    EarlierCertificate,
    ExposureGroup,
    FindingOverride,
    KeptDocument,
    LaboratoryReport,
    LaboratoryResult,
    LimitChoice,
    LogEntry,
    MediaLot,
    Membership,
    Meter,
    Method,
    PlannedTrain,
    PlanQuestion,
    PlanSearch,
    PlanTerms,
    Pump,
    Recommendation,
    ReviewComment,
    SampleOrder,
    Shift,
    Signature,
    Site,
    Splitter,
    Survey,
    Worker,
    WorkerName,
)

Person: TypeAlias = User | AnonymousUser
Act: TypeAlias = Literal[
    "see",
    "record",
    "correct",
    "equip",
    "deliver",
    "plan",
    "judge",
    "review",
    "sign",
    "export",
    "audit",
    "name",
    "manage",
]
Role = Membership.Role
_M = TypeVar("_M", bound=Model)

ROLES: Mapping[Act, frozenset[str]] = MappingProxyType(
    {
        "see": frozenset({Role.LEAD, Role.TECHNICIAN, Role.REVIEWER, Role.VIEWER}),
        "record": frozenset({Role.LEAD, Role.TECHNICIAN}),
        "correct": frozenset({Role.LEAD, Role.TECHNICIAN}),
        "equip": frozenset({Role.LEAD, Role.TECHNICIAN}),
        "deliver": frozenset({Role.LEAD, Role.TECHNICIAN}),
        "plan": frozenset({Role.LEAD}),
        "judge": frozenset({Role.LEAD}),
        "review": frozenset({Role.LEAD, Role.REVIEWER}),
        "sign": frozenset({Role.LEAD, Role.REVIEWER}),
        "export": frozenset({Role.LEAD, Role.REVIEWER}),
        "audit": frozenset({Role.LEAD, Role.TECHNICIAN, Role.REVIEWER}),
        "name": frozenset({Role.LEAD}),
        "manage": frozenset({Role.LEAD}),
    }
)
"""Which roles may do what, on the records of their own sites."""

ACTS: Mapping[Act, str] = MappingProxyType(
    {
        "see": "see the site, its surveys, samples and figures; workers by code",
        "record": "add entries to the field log",
        "correct": "correct an entry of the field log by a new one, with the reason",
        "equip": "change the register of pumps, splitters and meters",
        "deliver": "bring in a laboratory report",
        "plan": "make a survey, and change what was planned in it: shifts, samples, methods, limits",
        "judge": "lift a finding, with the reason; write the report's texts and recommendations; note who was told; "
        "set the letterhead",
        "review": "comment on a number or a sentence, and answer comments",
        "sign": "sign what a survey says, leads as author, reviewers as reviewer",
        "export": "take a survey out as a folder, coded",
        "audit": "see who changed what, when and why",
        "name": "see and change the names behind worker codes",
        "manage": "give people roles on the site, and pair devices with it",
    }
)
"""What each act means, in the words of docs/reference/roles.md."""


def acts_of(person: Person, site: Site) -> frozenset[Act]:
    """Return what a person may do on a site; nothing for a stranger."""
    role = _memberships(person).filter(site=site).values_list("role", flat=True).first()
    return frozenset(act for act, roles in ROLES.items() if role in roles)


def sites_of(person: Person, *, to: Act = "see") -> QuerySet[Site]:
    """Return the sites on which a person may do something."""
    return Site.objects.filter(pk__in=_memberships(person).filter(role__in=ROLES[to]).values("site"))


def surveys_of(person: Person, *, to: Act = "see") -> QuerySet[Survey]:
    """Return the surveys with which a person may do something, with their sites."""
    sites = _memberships(person).filter(role__in=ROLES[to]).values("site")
    return Survey.objects.filter(site__in=sites).select_related("site")


def site_for(person: Person, site: str, *, to: Act = "see") -> Site:
    """Return a site by its code."""
    return _one(Site.objects.filter(code=site), person, "", to)


def group_for(person: Person, site: str, group: str, *, to: Act = "see") -> ExposureGroup:
    """Return a similar exposure group by its code on a site."""
    return _of_site(ExposureGroup.objects.filter(site__code=site, code=group), person, to)


def worker_for(person: Person, site: str, worker: str, *, to: Act = "see") -> Worker:
    """Return a worker by code; the name is not part of this record."""
    return _of_site(Worker.objects.filter(site__code=site, code=worker).select_related("group"), person, to)


def worker_name_for(person: Person, site: str, worker: str, *, to: Act = "name") -> WorkerName:
    """Return the name behind a worker's code."""
    names = WorkerName.objects.filter(worker__site__code=site, worker__code=worker).select_related("worker__site")
    return _one(names, person, "worker__site__", to)


def membership_for(person: Person, site: str, member: str, *, to: Act = "manage") -> Membership:
    """Return a member of a site by the name they sign in with."""
    members = Membership.objects.filter(site__code=site, user__username=member).select_related("user")
    return _of_site(members, person, to)


def device_for(person: Person, device: str, *, to: Act = "see") -> Device:
    """Return a device by its code."""
    return _of_site(Device.objects.filter(code=device), person, to)


def pairing_of(device: Device, offer: int) -> DevicePairing:
    """Return one offer to pair a device that somebody was let in to."""
    return _part(device.pairings.filter(pk=offer))


def earlier_certificate_of(meter: Meter, number: int) -> EarlierCertificate:
    """Return one earlier certificate of a meter that somebody was let in to."""
    return _part(meter.earlier_certificates.filter(pk=number))


def pump_for(person: Person, site: str, pump: str, *, to: Act = "see") -> Pump:
    """Return a pump by its code on a site."""
    return _of_site(Pump.objects.filter(site__code=site, code=pump), person, to)


def splitter_for(person: Person, site: str, splitter: str, *, to: Act = "see") -> Splitter:
    """Return a splitter by its code on a site."""
    return _of_site(Splitter.objects.filter(site__code=site, code=splitter), person, to)


def meter_for(person: Person, site: str, meter: str, *, to: Act = "see") -> Meter:
    """Return a flow meter by its code on a site."""
    return _of_site(Meter.objects.filter(site__code=site, code=meter), person, to)


def survey_for(person: Person, survey: str, *, to: Act = "see") -> Survey:
    """Return a survey by its code."""
    return _of_site(Survey.objects.filter(code=survey), person, to)


def agent_for(person: Person, survey: str, agent: str, *, to: Act = "see") -> Agent:
    """Return a substance looked for in a survey by its key."""
    return _of_survey(Agent.objects.filter(survey__code=survey, code=agent), person, to)


def limit_for(person: Person, survey: str, limit: int, *, to: Act = "see") -> LimitChoice:
    """Return a limit a survey is judged by, by its number."""
    limits = LimitChoice.objects.filter(survey__code=survey, pk=limit).select_related("agent")
    return _of_survey(limits, person, to)


def method_for(person: Person, survey: str, method: str, *, to: Act = "see") -> Method:
    """Return a method of a survey by its code."""
    return _of_survey(Method.objects.filter(survey__code=survey, code=method).select_related("agent"), person, to)


def lot_for(person: Person, survey: str, lot: str, *, to: Act = "see") -> MediaLot:
    """Return a lot of samplers by its number."""
    return _of_survey(MediaLot.objects.filter(survey__code=survey, code=lot), person, to)


def shift_for(person: Person, survey: str, shift: str, *, to: Act = "see") -> Shift:
    """Return a shift of a survey by its code, with the worker."""
    return _of_survey(Shift.objects.filter(survey__code=survey, code=shift).select_related("worker"), person, to)


def sample_for(person: Person, survey: str, sampler: str, *, to: Act = "see") -> SampleOrder:
    """Return what was wanted of a sampler, with the shift and the worker."""
    orders = SampleOrder.objects.filter(survey__code=survey, code=sampler).select_related("shift__worker")
    return _of_survey(orders, person, to)


def report_for(person: Person, survey: str, report: str, *, to: Act = "see") -> LaboratoryReport:
    """Return a laboratory report by its number, without the file that was delivered (it is read when asked for)."""
    reports = LaboratoryReport.objects.filter(survey__code=survey, code=report).defer("original")
    return _of_survey(reports, person, to)


def result_for(person: Person, survey: str, result: int, *, to: Act = "see") -> LaboratoryResult:
    """Return one result of the laboratory by its number on record."""
    results = LaboratoryResult.objects.filter(survey__code=survey, pk=result)
    return _of_survey(results.select_related("report").defer("report__original", "report__mapping"), person, to)


def override_for(person: Person, survey: str, override: int, *, to: Act = "see") -> FindingOverride:
    """Return a person's decision to lift a finding, by its number."""
    return _of_survey(FindingOverride.objects.filter(survey__code=survey, pk=override), person, to)


def planned_train_for(person: Person, survey: str, train: int, *, to: Act = "see") -> PlannedTrain:
    """Return a train of the plan in force by its number, with the worker."""
    return _of_survey(PlannedTrain.objects.filter(survey__code=survey, pk=train).select_related("worker"), person, to)


def plan_search_for(person: Person, survey: str, search: int, *, to: Act = "see") -> PlanSearch:
    """Return a search for a plan by its number."""
    return _of_survey(PlanSearch.objects.filter(survey__code=survey, pk=search), person, to)


def question_for(person: Person, survey: str, question: str, *, to: Act = "see") -> PlanQuestion:
    """Return one question of a survey's plan by its code."""
    return _of_survey(PlanQuestion.objects.filter(survey__code=survey, code=question), person, to)


def plan_terms_for(person: Person, survey: str, *, to: Act = "see") -> PlanTerms:
    """Return what holds for the whole plan of a survey."""
    return _of_survey(PlanTerms.objects.filter(survey__code=survey), person, to)


def recommendation_for(person: Person, survey: str, recommendation: int, *, to: Act = "see") -> Recommendation:
    """Return one thing to do of a survey by its number."""
    return _of_survey(Recommendation.objects.filter(survey__code=survey, pk=recommendation), person, to)


def comment_for(person: Person, survey: str, comment: int, *, to: Act = "see") -> ReviewComment:
    """Return a reviewer's comment by its number."""
    return _of_survey(ReviewComment.objects.filter(survey__code=survey, pk=comment), person, to)


def signature_for(person: Person, survey: str, signature: int, *, to: Act = "see") -> Signature:
    """Return a signature by its number, with what was signed."""
    return _of_survey(Signature.objects.filter(survey__code=survey, pk=signature), person, to)


def kept_document_for(person: Person, survey: str, number: int, *, to: Act = "see") -> KeptDocument:
    """Return a document that was made for somebody, by its number."""
    return _of_survey(KeptDocument.objects.filter(survey__code=survey, pk=number), person, to)


def custody_form_for(person: Person, survey: str, form: int, *, to: Act = "see") -> CustodyForm:
    """Return one issue of a parcel's form by its number on record, with the form itself."""
    return _of_survey(CustodyForm.objects.filter(survey__code=survey, pk=form), person, to)


def delivered_file_for(person: Person, survey: str, delivered: int, *, to: Act = "see") -> DeliveredFile:
    """Return a laboratory's file by its number on record, with its bytes and the report it became."""
    files = (
        DeliveredFile.objects.filter(survey__code=survey, pk=delivered)
        .select_related("uploaded_by", "report", "original")
        .defer("report__original")
    )
    return _of_survey(files, person, to)


def entry_for(person: Person, survey: str, entry: str, *, to: Act = "see") -> LogEntry:
    """Return an entry of the field log by its id."""
    return _of_survey(LogEntry.objects.filter(survey__code=survey, entry_id=entry), person, to)


def is_free_for_a_survey(code: str) -> bool:
    """Whether no survey of this server has a code; that one has it says nothing of whose it is."""
    return not Survey.objects.filter(code=code).exists()


def is_free_for_a_site(code: str) -> bool:
    """Whether no site of this server has a code."""
    return not Site.objects.filter(code=code).exists()


def _of_site(records: QuerySet[_M], person: Person, to: Act) -> _M:
    return _one(records.select_related("site"), person, "site__", to)


def _of_survey(records: QuerySet[_M], person: Person, to: Act) -> _M:
    return _one(records.select_related("survey__site"), person, "survey__site__", to)


def _one(records: QuerySet[_M], person: Person, to_site: str, to: Act) -> _M:
    """
    Return the one record if the person may; one query where they may.

    Raises
    ------
    Http404
        There is no such record, or the person has no part in its site: the two look the same.
    PermissionDenied
        The person may see it, but their role may not do this with it.
    """
    if person.is_active and not person.is_anonymous:
        mine: dict[str, Any] = {f"{to_site}memberships__user": person}
        record = records.filter(**mine, **{f"{to_site}memberships__role__in": ROLES[to]}).first()
        if record is not None:
            return record
        if to != "see" and records.filter(**mine).exists():
            raise PermissionDenied(f"This takes the role {_in_words(ROLES[to])} on this site: {ACTS[to]}.")
    raise Http404("There is nothing here.")


def _part(records: QuerySet[_M]) -> _M:
    """Return the one part of a record that was let in to, or nothing."""
    found = records.first()
    if found is None:
        raise Http404("There is nothing here.")
    return found


def _memberships(person: Person) -> QuerySet[Membership]:
    if not person.is_active or person.is_anonymous:
        return Membership.objects.none()
    return Membership.objects.filter(user=person)


def _in_words(roles: frozenset[str]) -> str:
    return " or ".join(str(role.label) for role in Role if role in roles)
