"""What is known about one sample, as plain facts for the rules to look at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

SamplePurpose: TypeAlias = Literal["full shift", "short term", "ceiling", "task", "area"]


@dataclass(frozen=True, slots=True)
class FlowPair:
    """
    The flow of one port before and after one segment, means of the readings, in L/min.

    `pre_spread` and `post_spread` are (largest - smallest) / mean of the readings; `pre_n` and `post_n` count them.
    None means that the reading was not made or not recorded.
    """

    port: str
    pre_lpm: float | None
    post_lpm: float | None
    pre_spread: float | None = None
    post_spread: float | None = None
    pre_n: int | None = None
    post_n: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleFacts:
    """
    Facts about one sampler and one agent, as rules need them.

    Every field may be None: not known, or not recorded. A rule may have an answer to that too, and says so; what does
    not apply to a sample (a back section of a sampler that has none) is never counted against it.

    Attributes
    ----------
    sampler, agent, purpose
        Which sampler, which agent on it, and what the sample was for.
    flow_pairs
        Flow before and after, one pair a segment and port; only those of this sample's own port.
    closing_round
        Whether a closing round was declared after the last port was set.
    valve_touched, recharged, battery_changed
        Whether a valve was moved, or the pump's energy renewed, between the closing round and the post-check.
    same_meter, post_done
        Whether before and after were read with one meter; whether a post-check was made.
    leak_check_passed
        None when no leak check was recorded.
    readings_off_range
        One phrase a reading outside its meter's range, naming the reading.
    certificate_days_left
        Days from the day of use to the meter's due date, the worst meter; negative when it had run out.
    certificate_missing
        A meter was used for which no certificate is on file.
    meter_kinds, rotameter_corrected
        Kinds of the meters used; whether rotameter readings were brought to the air of the place.
    standard_unknown
        One phrase a reading stated at a standard condition that nobody stated: it is no flow of the place's air.
    method_source
        The sample's method and where it comes from, as the survey states it.
    flow_lpm, method_flow_min_lpm, method_flow_max_lpm
        Flow of the sample and the method's window. [L/min]
    port_flow_ratio
        Largest over smallest port flow on the splitter. [-]
    volume_l, method_volume_min_l, method_volume_max_l
        Volume of the sample and the method's window. [L]
    air_assumed
        Temperature and pressure were not recorded with the flow readings; the site's or a default stood in.
    back_over_front, back_reported, two_sections
        Back-section mass over front-section mass [-], whether a back section was reported, whether the sampler has one.
    blanks_count, blanks_wanted, samples_in_batch
        Field blanks with a result for this medium, lot and batch; how many the method wants; samples they stand for.
    blank_ug, blank_below_limit, sample_ug, limit_equivalent_ug
        Largest field blank [ug], whether it is below its reporting limit, the sample's own mass [ug], and the mass that
        the exposure limit would have left on this sampler [ug].
    blank_corrections
        How often a blank was subtracted on the way to the result (laboratory and office together).
    clock_min, counter_min, stop_from_counter
        Sampled minutes by the clock and by the pump's counter; whether the stop was worked out from the counter.
    stop_unknown, stop_from_removal
        One phrase a segment, naming train, port and entry: no stop of the pump is recorded, or it stands before its
        start, so that there is no sampled time; or the sampler's removal was taken in its place.
    faults, restarts, held_min, touched_in_run
        Pump faults and restarts, minutes on hold, and whether the port was touched while it drew.
    days_past_expiry
        Day of use minus the sampler's expiry; positive when it had expired.
    medium_wanted, medium_fitted, medium_seen_by_laboratory, sorbent_family, swapped
        The plan's medium, the one fitted, the one the laboratory describes, its family ("charcoal"), and whether the
        evidence says that two samplers changed places.
    kit_sheet_differences
        One phrase each time the kit sheet of whoever supplied the pump says other than what was put on the port.
    at_laboratory, result_present, not_analysed, duplicate_result
        Whether the sampler arrived, whether a result for this agent came back, the laboratory's reason where it says
        that there is none, and whether more than one result did.
    holding_days, holding_days_max, receipt_temperature_c, receipt_temperature_max_c, custody_gap_h, seal_intact
        Days from the end of sampling to analysis and the longest allowed; temperature on receipt and the highest
        allowed; the longest stretch in nobody's hands [h]; state of the seal.
    averaging_min
        Averaging time of the short-term limit, for short-term samples. [min]
    hours_since_charge, warm_up_min, first_check_min, longest_check_gap_min
        Hours from the last full charge to the start, warm-up before the flow was set, minutes to the first check, and
        the longest stretch without a look at the pump.
    sampled_share
        Sampled minutes of the worker's shift over the shift's minutes. [-]
    reporting_limit_share, reporting_limit_of, mass_over_reporting_limit
        The reporting limit in air, by this sample's own volume, over the exposure limit [-]; which exposure limit that
        is (agent, authority, kind, value); and the mass found over its reporting limit [-], None for a non-detect.
    limit_has_source, limit_age_days
        Whether the limit names where it comes from; days since the source was seen.
    humidity_percent
        Highest relative humidity recorded during the sample. [%]
    recovery
        Recovery (desorption efficiency) used, as a fraction. [-]
    laboratory_volume_ratio, laboratory_concentration_ratio
        What the laboratory printed over what was worked out here. [-]
    conflicts
        Two accounts of one act that nobody has settled, one phrase each.
    expanded_relative_u, exposure_share_of_limit
        Expanded uncertainty (k = 2) over the value, and the exposure over the limit. [-]
    """

    sampler: str
    agent: str
    purpose: SamplePurpose | None = None
    flow_pairs: tuple[FlowPair, ...] = ()
    closing_round: bool | None = None
    valve_touched: bool | None = None
    recharged: bool | None = None
    battery_changed: bool | None = None
    same_meter: bool | None = None
    post_done: bool | None = None
    leak_check_passed: bool | None = None
    readings_off_range: tuple[str, ...] = ()
    certificate_days_left: int | None = None
    certificate_missing: bool | None = None
    meter_kinds: tuple[str, ...] = ()
    rotameter_corrected: bool | None = None
    standard_unknown: tuple[str, ...] = ()
    method_source: str | None = None
    flow_lpm: float | None = None
    method_flow_min_lpm: float | None = None
    method_flow_max_lpm: float | None = None
    port_flow_ratio: float | None = None
    volume_l: float | None = None
    method_volume_min_l: float | None = None
    method_volume_max_l: float | None = None
    air_assumed: bool | None = None
    back_over_front: float | None = None
    back_reported: bool | None = None
    two_sections: bool | None = None
    blanks_count: int | None = None
    blanks_wanted: int | None = None
    samples_in_batch: int | None = None
    blank_ug: float | None = None
    blank_below_limit: bool | None = None
    sample_ug: float | None = None
    limit_equivalent_ug: float | None = None
    blank_corrections: int | None = None
    clock_min: float | None = None
    counter_min: float | None = None
    stop_from_counter: bool | None = None
    stop_unknown: tuple[str, ...] = ()
    stop_from_removal: tuple[str, ...] = ()
    faults: int | None = None
    restarts: int | None = None
    held_min: float | None = None
    touched_in_run: bool | None = None
    days_past_expiry: int | None = None
    medium_wanted: str | None = None
    medium_fitted: str | None = None
    medium_seen_by_laboratory: str | None = None
    sorbent_family: str | None = None
    kit_sheet_differences: tuple[str, ...] = ()
    at_laboratory: bool | None = None
    result_present: bool | None = None
    not_analysed: str | None = None
    holding_days: float | None = None
    holding_days_max: float | None = None
    receipt_temperature_c: float | None = None
    receipt_temperature_max_c: float | None = None
    custody_gap_h: float | None = None
    seal_intact: bool | None = None
    averaging_min: float | None = None
    hours_since_charge: float | None = None
    warm_up_min: float | None = None
    first_check_min: float | None = None
    longest_check_gap_min: float | None = None
    sampled_share: float | None = None
    reporting_limit_share: float | None = None
    reporting_limit_of: str | None = None
    mass_over_reporting_limit: float | None = None
    limit_has_source: bool | None = None
    limit_age_days: int | None = None
    humidity_percent: float | None = None
    recovery: float | None = None
    laboratory_volume_ratio: float | None = None
    laboratory_concentration_ratio: float | None = None
    swapped: bool | None = None
    conflicts: tuple[str, ...] = ()
    duplicate_result: bool | None = None
    expanded_relative_u: float | None = None
    exposure_share_of_limit: float | None = None
