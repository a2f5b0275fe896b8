"""What is on record for a survey, counted for its road in the same few queries however large it is."""

from __future__ import annotations

from collections import OrderedDict, defaultdict
from datetime import date
from threading import Lock
from typing import Any

from django.db.models import QuerySet
from django.db.models.fields.json import KT

from lapel.fieldlog.checks import codes_in
from lapel.office.surveys.report_facts import of_the_report
from lapel.office.surveys.road import RoadFacts
from lapel.records.models import Delivery, LogEntry, Meter, RefusedEntry, Survey

NAMES = {
    "train_prepared": "train",
    "closing_round": "train",
    "post_round": "train",
    "pump_started": "train",
    "sampler_fitted": "sampler",
    "blank_opened": "blank",
}
"""What an entry of a kind names, as far as the road counts it."""


MOST_HELD = 50
"""Surveys whose counts of the log are held at a time; they are a few codes a sample."""

_held: OrderedDict[tuple[str, int], tuple[str | None, dict[str, Any]]] = OrderedDict()
_door = Lock()


def facts_of(survey: Survey, *, on: date) -> RoadFacts:
    """
    Count what is on record for a survey.

    Parameters
    ----------
    survey : Survey
        Access was checked by whoever got it.
    on : date
        Today on the site, for certificates.

    Notes
    -----
    Entries withdrawn by a correction are left out. Other corrections, and entries two people made of one act, are
    weighed by `lapel.fieldlog.fold`, not here: the road counts, the field day and the figures work out.
    """
    limits = list(survey.limits.values_list("agent__code", "source"))
    agents = list(survey.agents.values_list("code", flat=True))
    methods = dict(survey.methods.values_list("code", "agent__code"))
    orders = list(survey.sampleorders.values_list("code", "methods"))
    return RoadFacts(
        groups=survey.site.groups.count(),
        workers=survey.site.workers.count(),
        agents=tuple(agents),
        agents_with_limit=frozenset(agent for agent, _ in limits),
        limits=len(limits),
        limits_without_source=sum(1 for _, source in limits if not source.strip()),
        questions=survey.planquestions.count(),
        planned_days=survey.planned_trains.order_by().values("day").distinct().count(),
        planned_trains=survey.planned_trains.count(),
        shifts=survey.shifts.count(),
        ordered=tuple(code for code, _ in orders),
        agents_ordered=frozenset(methods[key] for _, wanted in orders for key in wanted if key in methods),
        **_of_the_log(survey),
        reports=survey.laboratoryreports.count(),
        with_results=frozenset(survey.results.values_list("sampler", flat=True).distinct()),
        refused=RefusedEntry.objects.filter(survey=survey, settlement__isnull=True).count(),
        lifted=survey.overrides.count(),
        meters_past_due=tuple(
            Meter.objects.filter(site=survey.site, retired_on__isnull=True, due_on__lt=on).values_list(
                "code", flat=True
            )
        ),
        **of_the_report(survey),
    )


def _of_the_log(survey: Survey) -> dict[str, Any]:
    """
    Return what the road counts in the log, counted again only when the log has grown.

    The hash of the log's last delivery covers all before it; it is asked for first, so that what comes in meanwhile is
    counted next time.
    """
    last = Delivery.objects.filter(survey=survey).order_by("-pk").values_list("hash", flat=True).first()
    key = (str(survey._state.db), survey.pk)
    with _door:
        known = _held.get(key)
    if known is not None and known[0] == last:
        return known[1]
    counts = _counted(survey)
    with _door:
        _held[key] = (last, counts)
        _held.move_to_end(key)
        while len(_held) > MOST_HELD:
            _held.popitem(last=False)
    return counts


def _counted(survey: Survey) -> dict[str, Any]:
    entries = _entries(survey)
    seen = _named(entries)
    parcels = list(entries.filter(kind="parcel_sealed").values_list("fields__parcel", "fields__samplers"))
    return {
        "trains_prepared": frozenset(seen["train_prepared"]),
        "trains_closed": frozenset(seen["closing_round"]),
        "trains_started": frozenset(seen["pump_started"]),
        "trains_running": _running(entries),
        "trains_after": frozenset(seen["post_round"]),
        "fitted": frozenset(seen["sampler_fitted"]),
        "blanks": frozenset(seen["blank_opened"]),
        "parcels": len({parcel for parcel, _ in parcels}),
        "parcelled": frozenset(code for _, samplers in parcels for code in codes_in(samplers or "")),
        "handed_over": entries.filter(kind="custody_handed").count(),
    }


def _entries(survey: Survey) -> QuerySet[LogEntry]:
    """Return the entries of a survey that no correction withdrew."""
    withdrawn = LogEntry.objects.filter(survey=survey, kind="correction", fields__withdraw="yes")
    return LogEntry.objects.filter(survey=survey).exclude(
        entry_id__in=list(withdrawn.values_list("corrects", flat=True))
    )


def _named(entries: QuerySet[LogEntry]) -> dict[str, set[str]]:
    """Return the codes that the entries of each kind name; the database reads them out of the fields, each once."""
    seen: dict[str, set[str]] = defaultdict(set)
    for field in sorted(set(NAMES.values())):
        kinds = [kind for kind, named in NAMES.items() if named == field]
        rows = entries.filter(kind__in=kinds).order_by().values_list("kind", KT(f"fields__{field}")).distinct()
        for kind, code in rows:
            seen[kind].add((code or "").strip())
    return seen


def _running(entries: QuerySet[LogEntry]) -> tuple[str, ...]:
    """Return the trains whose pump was started or resumed after it last stopped."""
    pumps = entries.filter(kind__in=("pump_started", "pump_resumed", "pump_stopped"))
    train = KT("fields__train")
    last = {
        (code or "").strip(): kind
        for code, kind in pumps.order_by("at", "device", "sequence").values_list(train, "kind")
    }
    return tuple(sorted(code for code, kind in last.items() if kind != "pump_stopped"))
