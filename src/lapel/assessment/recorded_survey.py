"""A survey as it is on record, as the same plain data a survey folder gives: one query a table, however large it is."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime, timedelta, timezone
from functools import cache
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from lapel.assessment import inputs
from lapel.fieldlog import Entry, canonical_text
from lapel.hygiene.air import Air
from lapel.records.log_reading import entries_of
from lapel.records.models import EarlierCertificate, EarlierPlace, Meter, Site, Survey
from lapel.records.models.equipment import Certified

ROWS_AT_ONCE = 5000
"""Rows fetched at a time; a survey of any size passes through this much of the database's memory."""

_GROUP = ("code", "name", "tasks", "origin")
_WORKER = ("code", "group__code", "job", "origin", "since")
_AGENT = ("code", "name", "cas", "molar_mass", "effect_groups", "origin")
_LIMIT = (
    *("agent__code", "authority", "kind", "value", "unit", "averaging_min", "source", "as_of", "binding"),
    *("extended_shift_model", "note", "origin"),
)
_METHOD = (
    *("code", "agent__code", "medium", "flow_min_lpm", "flow_max_lpm", "volume_min_l", "volume_max_l"),
    *("reporting_limit_ug", "analysis_cv", "sampling_cv", "holding_days", "receipt_max_c", "blanks_min"),
    *("blanks_share", "duplicates_min", "duplicates_share", "two_sections", "source", "origin"),
)
_LOT = ("code", "medium", "expiry", "family", "catalogue", "origin")
_PUMP = ("code", "flow_min_lpm", "flow_max_lpm", "area_certificate", "origin")
_SPLITTER = ("code", "ports", "total_max_lpm", "origin")
_SHIFT = (
    *("code", "worker__code", "start", "start_offset_min", "end", "end_offset_min", "reference_min", "unsampled"),
    *("unsampled_reason", "hours_per_week", "respirator", "origin"),
)
_ORDER = ("code", "shift__code", "purpose", "methods", "averaging_min", "task", "origin")
_REPORT = (
    *("code", "laboratory", "received_on", "file", "sha256", "samples_received_on", "receipt_temperature_k"),
    *("recovery_corrected_by", "blank_corrected_by", "origin"),
)
_RESULT = (
    *("report__code", "sampler", "agent", "front_ug", "front_below", "back_ug", "back_below", "reporting_limit_ug"),
    *("recovery", "relative_u", "volume_l", "concentration_mg_m3", "medium", "remark", "analysed_on", "origin"),
)
_OVERRIDE = ("sampler", "rule", "person", "reason", "origin")
# Each list follows the fields of the dataclass it fills, in their order.

_Dated = TypeVar("_Dated", inputs.Worker, inputs.Meter)


def recorded_survey(survey: Survey) -> inputs.Survey:
    """
    Return a survey from the records, ready to be assessed.

    Parameters
    ----------
    survey : Survey
        The record; access was checked by whoever got it. With its site, if that is not to cost a query more.

    Returns
    -------
    lapel.assessment.inputs.Survey
        With the site's whole register of groups, workers by code, and equipment. Seventeen queries, however many rows.
        `input_sha256` is left empty: see `with_input_hash`.

    Notes
    -----
    What names something is read before what it names, so that a thing added in between is never missing from under a
    row that uses it.
    """
    entries = tuple(entries_of(survey))
    return survey_of(survey, entries, {name: read(survey) for name, read in READERS.items()})


def survey_of(survey: Survey, entries: tuple[Entry, ...], tables: Mapping[str, Any]) -> inputs.Survey:
    """Return a survey from its record, its log and its tables, by the names of `READERS`."""
    return inputs.Survey(
        title=survey.title,
        site=site_data(survey.site),
        rule_book=survey.rule_book,
        compared_rule_books=tuple(survey.compared_rule_books),
        assessed_on=survey.assessed_on,
        purpose=survey.purpose,
        prepared_by=survey.prepared_by,
        entries=entries,
        notes=dict(survey.notes),
        **tables,
    )


def with_input_hash(survey: inputs.Survey) -> inputs.Survey:
    """
    Return a recorded survey with the hash of what it says.

    SHA-256 over all of it but the places things were read from; the order in which entries came in does not matter. The
    same records give the same hash on any server and in either database. Certificates and groups that came after the
    survey's last act are left out: a meter certified anew later changes nothing of it.
    """
    last = max((entry.at for entry in survey.entries), default=None)
    texts = {name: field_text(value) for name, value in hashed_fields(survey, last)}
    return replace(survey, input_sha256=input_hash(texts, sorted(map(line_of, survey.entries))))


def hashed_fields(survey: inputs.Survey, last_entry_at: datetime | None) -> Iterator[tuple[str, Any]]:
    """Yield the fields of a survey that are hashed, each meter and worker as it was on the survey's last day."""
    ends = [shift.end for shift in survey.shifts.values()]
    if last_entry_at is not None:
        ends.append(last_entry_at)
    last = max(ends).astimezone(ZoneInfo(survey.site.zone)).date() if ends else None
    for one in fields(survey):
        if one.name in ("entries", "input_sha256"):
            continue
        value = getattr(survey, one.name)
        yield one.name, _until(value, last) if last is not None and one.name in ("meters", "workers") else value


def field_text(value: Any) -> str:
    """Write the value of a field as JSON with sorted keys, without the places it was read from."""
    return json.dumps(_without_origins(value), ensure_ascii=False, sort_keys=True, default=_plain)


def line_of(entry: Entry) -> str:
    """Return what stands for an entry in the hash: its own hash, on paper its text."""
    return entry.hash or canonical_text(entry)


def input_hash(texts: Mapping[str, str], lines: Sequence[str]) -> str:
    """Return the SHA-256 of a survey by the texts of its fields and the lines of its log, sorted."""
    all_texts = {**texts, "entries": "[]", "input_sha256": '""'}
    whole = ", ".join(f'"{name}": {all_texts[name]}' for name in sorted(all_texts))
    digest = hashlib.sha256(f"{{{whole}}}".encode("utf-8", "backslashreplace"))
    digest.update("".join(f"{line}\n" for line in lines).encode("utf-8", "backslashreplace"))
    return digest.hexdigest()


def _until(dated: Mapping[str, _Dated], last: date) -> dict[str, _Dated]:
    return {code: one.on(last) for code, one in dated.items()}


def site_data(site: Site) -> inputs.Site:
    """Return a site; its usual air only if both numbers are on record."""
    known = site.temperature_k is not None and site.pressure_kpa is not None
    air = Air(site.temperature_k, site.pressure_kpa) if known else None
    return inputs.Site(site.name, site.zone, air, site.area_class, site.origin)


def groups_of(site: Site) -> dict[str, inputs.Group]:
    """Return the similar exposure groups of a site by code."""
    return {row[0]: inputs.Group(*row) for row in _rows(site.groups.order_by("id"), _GROUP)}


def workers_of(site: Site) -> dict[str, inputs.Worker]:
    """Return the workers of a site by code, each with the groups before; names are no part of it."""
    earlier = EarlierPlace.objects.filter(worker__site=site)
    before: dict[str, inputs.Worker] = {}
    for row in _rows(earlier, ("worker__code", *_WORKER[1:])):
        before[row[0]] = replace(inputs.Worker(*row), before=before.get(row[0]))
    rows = _rows(site.workers.order_by("id"), _WORKER)
    return {row[0]: replace(inputs.Worker(*row), before=before.get(row[0])) for row in rows}


def pumps_of(site: Site) -> dict[str, inputs.Pump]:
    """Return the pumps of a site by code, retired ones too: they stand in the log of earlier days."""
    return {row[0]: inputs.Pump(*row) for row in _rows(site.pumps.order_by("id"), _PUMP)}


def splitters_of(site: Site) -> dict[str, inputs.Splitter]:
    """Return the splitters of a site by code."""
    return {
        code: inputs.Splitter(code, tuple(ports.split()), total_max, origin)
        for code, ports, total_max, origin in _rows(site.splitters.order_by("id"), _SPLITTER)
    }


def meters_of(site: Site) -> dict[str, inputs.Meter]:
    """Return the flow meters of a site by code, each under its latest certificate with those before."""
    before: dict[str, inputs.Meter] = {}
    earlier = EarlierCertificate.objects.filter(meter__site=site).select_related("meter")
    for certificate in earlier.iterator(ROWS_AT_ONCE):
        before[certificate.meter.code] = _meter(
            certificate.meter, certificate, certificate.origin, before.get(certificate.meter.code)
        )
    return {
        meter.code: _meter(meter, meter, meter.origin, before.get(meter.code))
        for meter in site.meters.order_by("id").iterator(ROWS_AT_ONCE)
    }


def agents_of(survey: Survey) -> dict[str, inputs.Agent]:
    """Return the substances looked for in a survey by key."""
    return {row[0]: _agent(row) for row in _rows(survey.agents.order_by("id"), _AGENT)}


def limits_of(survey: Survey) -> tuple[inputs.LimitChoice, ...]:
    """Return the limits a survey is judged by, in the order they were chosen."""
    return tuple(inputs.LimitChoice(*row) for row in _rows(survey.limits.order_by("id"), _LIMIT))


def methods_of(survey: Survey) -> dict[str, inputs.Method]:
    """Return the methods of a survey by code."""
    return {row[0]: inputs.Method(*row) for row in _rows(survey.methods.order_by("id"), _METHOD)}


def lots_of(survey: Survey) -> dict[str, inputs.MediaLot]:
    """Return the lots of samplers of a survey by number."""
    return {row[0]: inputs.MediaLot(*row) for row in _rows(survey.medialots.order_by("id"), _LOT)}


def orders_of(survey: Survey) -> dict[str, inputs.SampleOrder]:
    """Return the samples ordered in a survey by the number of their sampler."""
    return {row[0]: _order(row) for row in _rows(survey.sampleorders.order_by("id"), _ORDER)}


def shifts_of(survey: Survey) -> dict[str, inputs.Shift]:
    """Return the shifts of a survey by code."""
    return {row[0]: _shift(row) for row in _rows(survey.shifts.order_by("id"), _SHIFT)}


def reports_of(survey: Survey) -> dict[str, inputs.LaboratoryReport]:
    """Return the laboratory's reports by code."""
    rows = _rows(survey.laboratoryreports.order_by("id"), _REPORT)
    return {row[0]: inputs.LaboratoryReport(*row) for row in rows}


def results_of(survey: Survey) -> tuple[inputs.LaboratoryResult, ...]:
    """Return the laboratory's results, in the order they were brought in."""
    return tuple(inputs.LaboratoryResult(*row) for row in _rows(survey.results.order_by("id"), _RESULT))


def overrides_of(survey: Survey) -> tuple[inputs.FindingOverride, ...]:
    """Return what people decided of findings, in the order they did."""
    return tuple(inputs.FindingOverride(*row) for row in _rows(survey.overrides.order_by("id"), _OVERRIDE))


READERS: Mapping[str, Callable[[Survey], Any]] = {
    "overrides": overrides_of,
    "results": results_of,
    "orders": orders_of,
    "shifts": shifts_of,
    "limits": limits_of,
    "workers": lambda survey: workers_of(survey.site),
    "groups": lambda survey: groups_of(survey.site),
    "methods": methods_of,
    "agents": agents_of,
    "media_lots": lots_of,
    "pumps": lambda survey: pumps_of(survey.site),
    "splitters": lambda survey: splitters_of(survey.site),
    "meters": lambda survey: meters_of(survey.site),
    "reports": reports_of,
}
"""What reads each table of a survey; what names something goes before what it names."""


def _rows(table: QuerySet[Any], fields: tuple[str, ...]) -> Iterator[tuple[Any, ...]]:
    return table.values_list(*fields).iterator(ROWS_AT_ONCE)


def _agent(row: tuple[Any, ...]) -> inputs.Agent:
    code, name, cas, molar_mass, effect_groups, origin = row
    return inputs.Agent(code, name, cas, molar_mass, tuple(effect_groups), origin)


def _order(row: tuple[Any, ...]) -> inputs.SampleOrder:
    code, shift, purpose, methods, averaging_min, task, origin = row
    return inputs.SampleOrder(code, shift, purpose, tuple(methods), averaging_min, task, origin)


def _shift(row: tuple[Any, ...]) -> inputs.Shift:
    code, worker, start, start_offset_min, end, end_offset_min, *rest = row
    return inputs.Shift(
        code, worker, as_on_the_wall(start, start_offset_min), as_on_the_wall(end, end_offset_min), *rest
    )


def _meter(meter: Meter, said: Certified, origin: str, before: inputs.Meter | None) -> inputs.Meter:
    known = said.calibrated_at_k is not None and said.calibrated_at_kpa is not None
    return inputs.Meter(
        code=meter.code,
        kind=meter.kind,  # type: ignore[arg-type]  # one of Meter.Kind
        certificate=said.certificate,
        certified_on=said.certified_on,
        due_on=said.due_on,
        range_min_lpm=said.range_min_lpm,
        range_max_lpm=said.range_max_lpm,
        relative_u=said.relative_u,
        full_scale_u_lpm=said.full_scale_u_lpm,
        reads=said.reads,  # type: ignore[arg-type]  # one of its choices
        calibrated_at=Air(said.calibrated_at_k, said.calibrated_at_kpa) if known else None,
        exponent=said.exponent,
        curve=tuple((read, true) for read, true in said.curve),
        origin=origin,
        before=before,
    )


def as_on_the_wall(at: datetime, offset_min: int) -> datetime:
    """Return an instant as the site's clock showed it."""
    return at.astimezone(_offset(offset_min))


@cache
def _offset(minutes: int) -> timezone:
    return timezone(timedelta(minutes=minutes))


def _without_origins(value: Any) -> Any:
    if is_dataclass(value):
        return {one.name: _without_origins(getattr(value, one.name)) for one in fields(value) if one.name != "origin"}
    if isinstance(value, Mapping):
        return {key: _without_origins(item) for key, item in value.items() if key != "origin"}
    if isinstance(value, (list, tuple)):
        return [_without_origins(item) for item in value]
    return value


def _plain(value: Any) -> str:
    return str(value.isoformat())
