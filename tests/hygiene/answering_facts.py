"""Facts made to answer a measure with a wanted value: one small maker a measure, found by the measure's name."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from lapel.hygiene.facts import FlowPair, SampleFacts


def facts(**known: Any) -> SampleFacts:
    return SampleFacts(sampler="S-1", agent="toluene", **known)


def pair(pre: float | None = 0.1, post: float | None = 0.1, **more: Any) -> FlowPair:
    return FlowPair("B", pre, post, **more)


def _claim(field: str, *, fault: Any = True, sound: Any = False, **context: Any) -> Callable[[bool], SampleFacts]:
    return lambda yes: facts(**{field: fault if yes else sound}, **context)


def _number(field: str, factor: float = 1.0, kind: type = float, **context: Any) -> Callable[[float], SampleFacts]:
    return lambda value: facts(**{field: kind(value * factor)}, **context)


ANSWERING: dict[str, Callable[[Any], SampleFacts]] = {
    "flow_change": lambda percent: facts(flow_pairs=(pair(0.1, 0.1 * (1.0 + percent / 100.0)),)),
    "flow_missing": lambda yes: facts(flow_pairs=() if yes else (pair(),)),
    "post_check_missing": lambda yes: facts(flow_pairs=(pair(post=None if yes else 0.1),)),
    "closing_round_missing": _claim("closing_round", fault=False, sound=True),
    "valve_touched": _claim("valve_touched"),
    "pump_energy_renewed": _claim("recharged"),
    "replicate_spread": lambda percent: facts(flow_pairs=(pair(pre_spread=percent / 100.0),)),
    "replicate_count": lambda count: facts(flow_pairs=(pair(pre_n=int(count), post_n=9),)),
    "readings_off_range": lambda count: facts(readings_off_range=("reading 0.9 L/min",) * int(count)),
    "certificate_overdue": lambda days: facts(certificate_days_left=-int(days)),
    "certificate_missing": _claim("certificate_missing"),
    "rotameter_uncorrected": _claim("rotameter_corrected", fault=False, sound=True, meter_kinds=("rotameter",)),
    "standard_condition_unknown": _claim("standard_unknown", fault=("31.0 mL/min on M-1 (entry e-7)",), sound=()),
    "rotameter_as_standard": _claim("meter_kinds", fault=("rotameter",), sound=("piston",)),
    "meter_changed": _claim("same_meter", fault=False, sound=True),
    "air_assumed": _claim("air_assumed"),
    "leak_check_failed": _claim("leak_check_passed", fault=False, sound=True),
    "flow_below_method": lambda off: facts(flow_lpm=0.1 * (1.0 - off / 100.0), method_flow_min_lpm=0.1),
    "flow_above_method": lambda off: facts(flow_lpm=0.1 * (1.0 + off / 100.0), method_flow_max_lpm=0.1),
    "lowest_flow": _number("flow_lpm", 0.001),
    "port_flow_ratio": _number("port_flow_ratio"),
    "clock_counter_gap": lambda percent: facts(clock_min=480.0, counter_min=480.0 * (1.0 - percent / 100.0)),
    "stop_from_counter": _claim("stop_from_counter"),
    "stop_unknown": _claim("stop_unknown", fault=("train T-1, port B: no stop",), sound=()),
    "stop_from_removal": _claim("stop_from_removal", fault=("train T-1, port B: no stop",), sound=()),
    "pump_faults": _number("faults", kind=int),
    "pump_restarts": _number("restarts", kind=int),
    "held_minutes": _number("held_min"),
    "touched_in_run": _claim("touched_in_run"),
    "volume_below_method": lambda off: facts(volume_l=5.0 * (1.0 - off / 100.0), method_volume_min_l=5.0),
    "volume_above_method": lambda off: facts(volume_l=12.0 * (1.0 + off / 100.0), method_volume_max_l=12.0),
    "short_term_shortfall": lambda off: facts(
        purpose="short term", averaging_min=15.0, clock_min=15.0 * (1.0 - off / 100.0)
    ),
    "short_term_excess": lambda off: facts(
        purpose="short term", averaging_min=15.0, clock_min=15.0 * (1.0 + off / 100.0)
    ),
    "hours_since_charge": _number("hours_since_charge"),
    "warm_up": _number("warm_up_min"),
    "first_check": _number("first_check_min"),
    "check_gap": _number("longest_check_gap_min"),
    "sampled_share": _number("sampled_share", 0.01, purpose="full shift"),
    "humidity_on_charcoal": _number("humidity_percent", sorbent_family="charcoal"),
    "kit_sheet_differs": _claim("kit_sheet_differences", fault=("port A: another lot",), sound=()),
    "unsettled_conflicts": lambda count: facts(conflicts=("two starts of train 4",) * int(count)),
    "back_over_front": _number("back_over_front", 0.01, two_sections=True),
    "back_of_total": lambda percent: facts(back_over_front=percent / (100.0 - percent), two_sections=True),
    "back_not_reported": _claim("back_reported", fault=False, sound=True, two_sections=True),
    "blanks_missing": _claim("blanks_count", fault=0, sound=2),
    "blanks_short": lambda short: facts(blanks_count=8 - int(short), blanks_wanted=8),
    "blank_of_sample": _number("blank_ug", blank_below_limit=False, sample_ug=100.0),
    "blank_of_limit": _number("blank_ug", blank_below_limit=False, limit_equivalent_ug=100.0),
    "blank_not_subtracted": _claim("blank_corrections", fault=0, sound=1, blank_ug=3.0, blank_below_limit=False),
    "blank_corrections": _number("blank_corrections", kind=int),
    "past_expiry": _number("days_past_expiry", kind=int),
    "wrong_medium": _claim("medium_fitted", fault="silica gel", sound="charcoal", medium_wanted="charcoal"),
    "medium_disagrees": _claim(
        "medium_seen_by_laboratory", fault="silica gel", sound="charcoal", medium_fitted="charcoal"
    ),
    "swapped": _claim("swapped"),
    "missing_at_laboratory": _claim("at_laboratory", fault=False, sound=True),
    "result_missing": _claim("result_present", fault=False, sound=True),
    "duplicate_result": _claim("duplicate_result"),
    "past_holding_time": lambda days: facts(holding_days=14.0 + days, holding_days_max=14.0),
    "warm_on_receipt": lambda degrees: facts(receipt_temperature_c=4.0 + degrees, receipt_temperature_max_c=4.0),
    "custody_gap": _number("custody_gap_h"),
    "seal_broken": _claim("seal_intact", fault=False, sound=True),
    "recovery": _number("recovery", 0.01),
    "laboratory_volume_off": lambda percent: facts(laboratory_volume_ratio=1.0 + percent / 100.0),
    "laboratory_concentration_off": lambda percent: facts(laboratory_concentration_ratio=1.0 - percent / 100.0),
    "reporting_limit_share": _number("reporting_limit_share", 0.01),
    "limit_without_source": _claim("limit_has_source", fault=False, sound=True),
    "limit_age": _number("limit_age_days", kind=int, limit_has_source=True),
    "uncertainty_low_range": _number("expanded_relative_u", 0.01, exposure_share_of_limit=0.3),
    "uncertainty_high_range": _number("expanded_relative_u", 0.01, exposure_share_of_limit=0.8),
    "uncertainty_short_term": _number("expanded_relative_u", 0.01, exposure_share_of_limit=0.8, purpose="short term"),
    "uncertainty_at_limit": _number("expanded_relative_u", 0.01, exposure_share_of_limit=1.2),
}
"""Measure to a maker of facts that answer it so; “yes” is the fault of a claim."""

UNRECORDED: dict[str, SampleFacts] = {
    "post_check_missing": facts(),
    "closing_round_missing": facts(),
    "valve_touched": facts(),
    "pump_energy_renewed": facts(),
    "certificate_overdue": facts(),
    "rotameter_uncorrected": facts(meter_kinds=("rotameter",)),
    "leak_check_failed": facts(),
    "hours_since_charge": facts(),
    "warm_up": facts(),
    "blanks_missing": facts(),
    "blank_not_subtracted": facts(blank_ug=3.0, blank_below_limit=False),
    "past_expiry": facts(),
    "wrong_medium": facts(medium_wanted="charcoal"),
    "past_holding_time": facts(holding_days_max=14.0),
    "warm_on_receipt": facts(receipt_temperature_max_c=4.0),
    "custody_gap": facts(),
    "limit_age": facts(limit_has_source=True),
}
"""Measure to facts of which the one it asks for was not recorded, though it applies."""

WHOLE = {"readings", "faults", "restarts", "accounts", "blanks", "days"}
"""Units that come in whole numbers; a step beyond a tier is then one."""
