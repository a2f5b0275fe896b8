"""Making the day pack of a survey: the same number of queries, whatever its size."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date

from lapel.assessment import inputs
from lapel.assessment.recorded_survey import agents_of, limits_of, lots_of, meters_of, methods_of, splitters_of
from lapel.field.pack_shapes import (
    DayPack,
    PackLimit,
    PackMedia,
    PackMeter,
    PackMethod,
    PackPump,
    PackRule,
    PackRules,
    PackSampler,
    PackShift,
    PackSplitter,
    PackSurvey,
    PackTier,
    PackWorker,
)
from lapel.field.planned_trains import planned_trains
from lapel.fieldlog import instant_text
from lapel.figures import number
from lapel.hygiene import to_mg_m3
from lapel.hygiene.findings import wanted_words
from lapel.hygiene.measures import MEASURES
from lapel.hygiene.rulebook import Citation, Rule, RuleBook, Tier
from lapel.records import models
from lapel.reference import rule_book

IN_THE_FIELD = (
    *("flow_change", "replicate_spread", "replicate_count", "first_check", "check_gap", "warm_up"),
    *("hours_since_charge", "port_flow_ratio", "lowest_flow", "clock_counter_gap", "held_minutes"),
    *("flow_below_method", "flow_above_method", "volume_below_method", "volume_above_method"),
    *("reporting_limit_share", "sampled_share", "short_term_shortfall", "short_term_excess", "past_expiry"),
    *("certificate_overdue", "readings_off_range", "wrong_medium", "leak_check_failed", "valve_touched"),
)
"""The measures a device can judge while something can still be done about them."""


def day_pack(survey: models.Survey, on: date) -> DayPack:
    """
    Make the pack of a survey for a day.

    Parameters
    ----------
    survey : Survey
        With its site.
    on : date
        The day, by the site's clock: which plan, which certificates and groups are in force.
    """
    site = survey.site
    methods, agents = methods_of(survey), agents_of(survey)
    plan = planned_trains(survey, on)
    orders = list(survey.sampleorders.select_related("shift__worker").order_by("id"))
    pack = DayPack(
        hash="",
        planned_for=plan.planned_for,
        plan_words=plan.words,
        survey=_survey(survey),
        trains=plan.trains,
        blanks=plan.blanks,
        spares=plan.spares,
        workers=_workers(survey),
        pumps=[_pump(pump) for pump in site.pumps.filter(retired_on=None)],
        splitters=_splitters(site),
        meters=_meters(site, on),
        samplers=[_sampler(order, methods) for order in orders],
        media=[_lot(lot) for lot in lots_of(survey).values()],
        methods=[_method(method) for method in methods.values()],
        limits=[_limit(limit, agents) for limit in limits_of(survey)],
        tasks=sorted({order.task for order in orders if order.task}),
        rules=rules_of(rule_book(survey.rule_book)),
    )
    text = json.dumps(pack.as_hashed(), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    pack.hash = hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()
    return pack


def rules_of(book: RuleBook) -> PackRules:
    """Return what of a rule book a device can judge."""
    return PackRules(
        key=book.key,
        title=book.title,
        edition=book.edition,
        caution=book.caution,
        change_basis=book.change_basis,
        flow_rule=book.flow_rule,
        averaging_min=book.averaging_min,
        rules={rule.measure: _rule(rule, book) for rule in book.rules if rule.measure in IN_THE_FIELD},
    )


def _rule(rule: Rule, book: RuleBook) -> PackRule:
    measure = MEASURES[rule.measure]
    return PackRule(
        id=rule.id,
        title=rule.title,
        measure=rule.measure,
        unit=measure.unit,
        wanted=wanted_words(rule, measure, book),
        tiers=[_tier(tier, tier.citation or rule.citation) for tier in rule.tiers],
    )


def _tier(tier: Tier, citation: Citation) -> PackTier:
    return PackTier(
        bound=tier.bound,
        value=tier.value,
        effect=tier.effect,
        words=tier.words,
        remedy=tier.remedy,
        document=citation.document,
        section=citation.section,
        certainty=citation.certainty,
        clause_unread=citation.clause_unread,
    )


def _survey(survey: models.Survey) -> PackSurvey:
    site = survey.site
    known = site.temperature_k is not None and site.pressure_kpa is not None
    return PackSurvey(
        code=survey.code,
        title=survey.title,
        site=site.name,
        zone=site.zone,
        temperature_c=round(site.temperature_k - 273.15, 6) if known and site.temperature_k is not None else None,
        pressure_kpa=site.pressure_kpa if known else None,
    )


def _workers(survey: models.Survey) -> list[PackWorker]:
    shifts: dict[str, list[PackShift]] = {}
    for shift in survey.shifts.select_related("worker").order_by("start"):
        shifts.setdefault(shift.worker.code, []).append(
            PackShift(
                code=shift.code,
                start=instant_text(shift.start),
                end=instant_text(shift.end),
                reference_min=shift.reference_min,
            )
        )
    workers = survey.site.workers.select_related("group").order_by("id")
    return [
        PackWorker(
            code=worker.code, group=worker.group.code if worker.group else "", shifts=shifts.get(worker.code, [])
        )
        for worker in workers
    ]


def _pump(pump: models.Pump) -> PackPump:
    return PackPump(
        code=pump.code,
        flow_min_lpm=pump.flow_min_lpm,
        flow_max_lpm=pump.flow_max_lpm,
        service_due_on=_day(pump.service_due_on),
        area_certificate=pump.area_certificate,
    )


def _splitters(site: models.Site) -> list[PackSplitter]:
    retired = set(site.splitters.exclude(retired_on=None).values_list("code", flat=True))
    return [
        PackSplitter(code=one.code, ports=list(one.ports), total_max_lpm=one.total_max_lpm)
        for one in splitters_of(site).values()
        if one.code not in retired
    ]


def _meters(site: models.Site, on: date) -> list[PackMeter]:
    """Give the retired ones too: readings made with them stand in the log of the day."""
    return [_meter(meter.on(on)) for meter in meters_of(site).values()]


def _meter(meter: inputs.Meter) -> PackMeter:
    air = meter.calibrated_at
    return PackMeter(
        code=meter.code,
        kind=meter.kind,
        certificate=meter.certificate,
        certified_on=_day(meter.certified_on),
        due_on=_day(meter.due_on),
        range_min_lpm=meter.range_min_lpm,
        range_max_lpm=meter.range_max_lpm,
        relative_u=meter.relative_u,
        reads=meter.reads,
        calibrated_at_k=None if air is None else number(air.temperature_k),
        calibrated_at_kpa=None if air is None else number(air.pressure_kpa),
        exponent=meter.exponent,
        curve=[(number(shown), number(true)) for shown, true in meter.curve],
    )


def _sampler(order: models.SampleOrder, methods: Mapping[str, inputs.Method]) -> PackSampler:
    media = {methods[code].medium for code in order.methods if code in methods}
    return PackSampler(
        code=order.code,
        shift=order.shift.code,
        worker=order.shift.worker.code,
        purpose=order.purpose,
        methods=list(order.methods),
        averaging_min=order.averaging_min,
        task=order.task,
        medium=media.pop() if len(media) == 1 else "",
    )


def _lot(lot: inputs.MediaLot) -> PackMedia:
    return PackMedia(
        lot=lot.lot, medium=lot.medium, expiry=_day(lot.expiry), catalogue=lot.catalogue, family=lot.family
    )


def _method(method: inputs.Method) -> PackMethod:
    return PackMethod(
        code=method.code,
        agent=method.agent,
        medium=method.medium,
        flow_min_lpm=method.flow_min_lpm,
        flow_max_lpm=method.flow_max_lpm,
        volume_min_l=method.volume_min_l,
        volume_max_l=method.volume_max_l,
        reporting_limit_ug=method.reporting_limit_ug,
    )


def _limit(limit: inputs.LimitChoice, agents: Mapping[str, inputs.Agent]) -> PackLimit:
    agent = agents.get(limit.agent)
    molar_mass = agent.molar_mass if agent else None
    mg_m3: float | None = limit.value if limit.unit == "mg/m3" else None
    if limit.unit == "ppm" and molar_mass is not None:
        mg_m3 = to_mg_m3(limit.value, molar_mass).value
    return PackLimit(
        agent=limit.agent,
        agent_name=agent.name if agent else "",
        authority=limit.authority,
        kind=limit.kind,
        value=limit.value,
        unit=limit.unit,
        mg_m3=mg_m3,
        averaging_min=limit.averaging_min,
        binding=limit.binding,
    )


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""
