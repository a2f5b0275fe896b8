"""The rows of every table but the log's, column by column as the layout has them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence

from lapel.assessment.inputs import (
    Agent,
    FindingOverride,
    Group,
    LimitChoice,
    MediaLot,
    Meter,
    Method,
    Pump,
    SampleOrder,
    Shift,
    Splitter,
    Survey,
    Worker,
)
from lapel.exchange.survey_folder import layout
from lapel.exchange.survey_folder.columns import Column, Table
from lapel.exchange.survey_folder.writer_cells import (
    celsius,
    date_text,
    instant,
    number,
    percent,
    read_back_as,
    scaled,
    words,
    yes_or_no,
)

Cells = dict[str, str]


def tables_of(survey: Survey) -> Iterator[tuple[Table, list[Cells]]]:
    """Give every table with its rows; a table that is not needed and has none is left out."""
    everything: tuple[tuple[Table, Iterable[Cells]], ...] = (
        (layout.GROUPS, map(_group, survey.groups.values())),
        (layout.WORKERS, (_worker(one) for latest in survey.workers.values() for one in latest.places())),
        (layout.SHIFTS, map(_shift, survey.shifts.values())),
        (layout.AGENTS, map(_agent, survey.agents.values())),
        (layout.LIMITS, map(_limit, survey.limits)),
        (layout.METHODS, map(_method, survey.methods.values())),
        (layout.MEDIA, map(_lot, survey.media_lots.values())),
        (layout.SAMPLES, map(_order, survey.orders.values())),
        (layout.OVERRIDES, map(_override, survey.overrides)),
        (layout.PUMPS, map(_pump, survey.pumps.values())),
        (layout.SPLITTERS, map(_splitter, survey.splitters.values())),
        (layout.METERS, (_meter(one) for latest in survey.meters.values() for one in latest.certificates())),
    )
    for table, made in everything:
        rows = list(made)
        if rows or table.needed:
            yield table, rows


def table_text(columns: Sequence[Column], rows: Iterable[Mapping[str, str]]) -> str:
    """Write a table as CSV: the columns that are needed or filled somewhere, in the order of the layout."""
    rows = list(rows)
    used = [column.name for column in columns if column.needed or any(row.get(column.name) for row in rows)]
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(used)
    writer.writerows([row.get(name, "") for name in used] for row in rows)
    return text.getvalue()


def _flows(cells: Mapping[str, float | None]) -> Cells:
    """Write flows of one row and their unit: mL/min as on a port, L/min where any is 10 L/min or more."""
    known = [flow for flow in cells.values() if flow is not None]
    if not known:
        return {}
    factor, unit = (1, "L/min") if max(known) >= 10.0 else (1000, "mL/min")
    return {name: scaled(flow, factor) for name, flow in cells.items()} | {"flow_unit": unit}


def _group(group: Group) -> Cells:
    return {"code": group.code, "name": group.name, "tasks": group.tasks}


def _worker(worker: Worker) -> Cells:
    return {"code": worker.code, "group": worker.group, "job": worker.job, "since": date_text(worker.since)}


def _shift(shift: Shift) -> Cells:
    return {
        "code": shift.code,
        "worker": shift.worker,
        "start": instant(shift.start),
        "end": instant(shift.end),
        "reference_min": number(shift.reference_min),
        "unsampled": shift.unsampled,
        "unsampled_reason": shift.unsampled_reason,
        "hours_per_week": number(shift.hours_per_week),
        "respirator": shift.respirator,
    }


def _agent(agent: Agent) -> Cells:
    return {
        "key": agent.key,
        "name": agent.name,
        "cas": agent.cas,
        "molar_mass": number(agent.molar_mass),
        "effect_groups": words(agent.effect_groups),
    }


def _limit(limit: LimitChoice) -> Cells:
    """Write a limit out in full; a packaged one that filled it is no longer needed, nor is any later edition of it."""
    return {
        "agent": limit.agent,
        "authority": limit.authority,
        "kind": limit.kind,
        "value": number(limit.value),
        "unit": limit.unit,
        "averaging_min": number(limit.averaging_min),
        "source": limit.source,
        "as_of": date_text(limit.as_of),
        "binding": yes_or_no(limit.binding),
        "extended_shift_model": limit.extended_shift_model,
        "note": limit.note,
    }


def _method(method: Method) -> Cells:
    volumes = {"volume_min": number(method.volume_min_l), "volume_max": number(method.volume_max_l)}
    cells = {
        "code": method.code,
        "agent": method.agent,
        "medium": method.medium,
        **_flows({"flow_min": method.flow_min_lpm, "flow_max": method.flow_max_lpm}),
        **volumes,
        "volume_unit": "L" if any(volumes.values()) else "",
        "analysis_cv_percent": percent(method.analysis_cv),
        "sampling_cv_percent": percent(method.sampling_cv),
        "holding_days": number(method.holding_days),
        "blanks_min": number(method.blanks_min),
        "blanks_share_percent": percent(method.blanks_share),
        "duplicates_min": number(method.duplicates_min),
        "duplicates_share_percent": percent(method.duplicates_share),
        "two_sections": yes_or_no(method.two_sections),
        "source": method.source,
    }
    if method.reporting_limit_ug is not None:
        cells |= {"reporting_limit": number(method.reporting_limit_ug), "reporting_limit_unit": "ug"}
    if method.receipt_max_c is not None:
        cells |= {"receipt_max": number(method.receipt_max_c), "receipt_max_unit": "°C"}
    return cells


def _lot(lot: MediaLot) -> Cells:
    return {
        "lot": lot.lot,
        "medium": lot.medium,
        "expiry": date_text(lot.expiry),
        "family": lot.family,
        "catalogue": lot.catalogue,
    }


def _order(order: SampleOrder) -> Cells:
    return {
        "sampler": order.sampler,
        "shift": order.shift,
        "purpose": order.purpose,
        "methods": words(order.methods),
        "averaging_min": number(order.averaging_min),
        "task": order.task,
    }


def _override(override: FindingOverride) -> Cells:
    return {
        "sampler": override.sampler,
        "rule": override.rule,
        "person": override.person,
        "reason": override.reason,
    }


def _pump(pump: Pump) -> Cells:
    flows = _flows({"flow_min": pump.flow_min_lpm, "flow_max": pump.flow_max_lpm})
    return {"code": pump.code, **flows, "area_certificate": pump.area_certificate}


def _splitter(splitter: Splitter) -> Cells:
    return {"code": splitter.code, "ports": words(splitter.ports), **_flows({"total_max": splitter.total_max_lpm})}


def _meter(meter: Meter) -> Cells:
    cells = {
        "code": meter.code,
        "kind": meter.kind,
        "certificate": meter.certificate,
        "certified_on": date_text(meter.certified_on),
        "due_on": date_text(meter.due_on),
        **_flows({"range_min": meter.range_min_lpm, "range_max": meter.range_max_lpm}),
        **_certificate_uncertainty(meter),
        "reads": meter.reads,
        "exponent": number(meter.exponent),
    }
    if meter.calibrated_at is not None:
        cells |= {
            "scale_temperature": celsius(meter.calibrated_at.temperature_k),
            "scale_temperature_unit": "°C",
            "scale_pressure": number(meter.calibrated_at.pressure_kpa),
            "scale_pressure_unit": "kPa",
        }
    if meter.curve:
        unit = cells.setdefault("flow_unit", "mL/min")
        factor = 1 if unit == "L/min" else 1000
        cells["curve"] = words(f"{scaled(read, factor)}={scaled(true, factor)}" for read, true in meter.curve)
    return cells


def _certificate_uncertainty(meter: Meter) -> Cells:
    """Write standard uncertainties as a certificate prints them, expanded with k = 2."""
    full_scale = meter.full_scale_u_lpm or None
    if meter.relative_u is None and full_scale is None:
        return {}
    cells = {"coverage_factor": "2"}
    if meter.relative_u is not None:
        relative = meter.relative_u
        cells["reading_u_percent"] = read_back_as(relative, relative * 200.0, lambda u: u / 100.0 / 2.0)
    if full_scale is not None:
        top = meter.range_max_lpm or 0.0
        near = full_scale * 200.0 / top if top else 0.0
        cells["full_scale_u_percent"] = read_back_as(full_scale, near, lambda u: u / 100.0 * top / 2.0)
    return cells
