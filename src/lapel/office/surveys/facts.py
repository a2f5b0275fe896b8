"""What is on record for a survey, counted for its road in the same few queries however large it is."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from lapel.fieldlog.checks import codes_in
from lapel.office.surveys.road import RoadFacts
from lapel.records.models import LogEntry, Meter, RefusedEntry, Survey

KINDS = (
    "train_prepared",
    "closing_round",
    "post_round",
    "pump_started",
    "pump_resumed",
    "pump_stopped",
    "sampler_fitted",
    "blank_opened",
    "parcel_sealed",
    "custody_handed",
)


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
    seen, trains = _entries(survey)
    return RoadFacts(
        groups=survey.site.groups.count(),
        workers=survey.site.workers.count(),
        agents=tuple(agents),
        agents_with_limit=frozenset(agent for agent, _ in limits),
        limits=len(limits),
        limits_without_source=sum(1 for _, source in limits if not source.strip()),
        shifts=survey.shifts.count(),
        ordered=tuple(code for code, _ in orders),
        agents_ordered=frozenset(methods[key] for _, wanted in orders for key in wanted if key in methods),
        trains_prepared=frozenset(seen["train_prepared"]),
        trains_closed=frozenset(seen["closing_round"]),
        trains_started=frozenset(seen["pump_started"]),
        trains_running=tuple(sorted(train for train, last in trains.items() if last != "pump_stopped")),
        trains_after=frozenset(seen["post_round"]),
        fitted=frozenset(seen["sampler_fitted"]),
        blanks=frozenset(seen["blank_opened"]),
        parcels=len(seen["parcel_sealed"]),
        parcelled=frozenset(seen["parcelled"]),
        handed_over=len(seen["custody_handed"]),
        reports=survey.laboratoryreports.count(),
        with_results=frozenset(survey.results.values_list("sampler", flat=True).distinct()),
        refused=RefusedEntry.objects.filter(survey=survey, settlement__isnull=True).count(),
        lifted=survey.overrides.count(),
        meters_past_due=tuple(
            Meter.objects.filter(site=survey.site, retired_on__isnull=True, due_on__lt=on).values_list(
                "code", flat=True
            )
        ),
    )


def _entries(survey: Survey) -> tuple[dict[str, set[str]], dict[str, str]]:
    """Return which codes each kind of entry named, and what the pump of each train did last."""
    withdrawn = set(
        LogEntry.objects.filter(survey=survey, kind="correction", fields__withdraw="yes").values_list(
            "corrects", flat=True
        )
    )
    rows = LogEntry.objects.filter(survey=survey, kind__in=KINDS).order_by("at", "device", "sequence")
    seen: dict[str, set[str]] = defaultdict(set)
    trains: dict[str, str] = {}
    for entry_id, kind, fields in rows.values_list("entry_id", "kind", "fields"):
        if entry_id in withdrawn:
            continue
        about = "sampler" if kind == "sampler_fitted" else "blank" if kind == "blank_opened" else "train"
        if kind == "custody_handed":
            seen[kind].add(entry_id)
        elif kind == "parcel_sealed":
            seen[kind].add(str(fields.get("parcel", "")))
            seen["parcelled"].update(codes_in(str(fields.get("samplers", ""))))
        else:
            seen[kind].add(str(fields.get(about, "")).strip())
        if kind.startswith("pump_"):
            trains[str(fields.get("train", "")).strip()] = kind
    return seen, trains
