"""What a reviewer would send back: sentences surer than the data, treatments that lean the wrong way, silence."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from lapel.assessment.inputs import Agent, FindingOverride
from lapel.assessment.survey import assess
from lapel.documents import compose
from lapel.documents.compose_findings import idle_override_lines
from tests.assessment.one_worker import OneWorker, Tube, one_tube

FLOW_LPM = 0.099
VOLUME_L = FLOW_LPM * 480


def with_toluene(made, *, toluene_ug=20.0, limit=True, **changed):
    """The same tubes analysed for toluene too, with an effect in common."""
    survey = made.survey()
    methods = {**survey.methods, "T": replace(survey.methods["M"], code="T", agent="toluene")}
    orders = {code: replace(order, methods=("M", "T")) for code, order in survey.orders.items()}
    benzene = replace(survey.agents["benzene"], effect_groups=("blood",))
    toluene = Agent("toluene", "Toluene", "108-88-3", 92.141, ("blood",))
    results = [*survey.results]
    if toluene_ug is not None:
        results += [
            replace(row, agent="toluene", front_ug=toluene_ug if row.sampler.startswith("L") else row.front_ug)
            for row in survey.results
        ]
    limits = survey.limits
    if limit:
        limits += (replace(limits[0], agent="toluene"),)
    return replace(
        survey,
        methods=methods,
        orders=orders,
        agents={"benzene": benzene, "toluene": toluene},
        results=tuple(results),
        limits=limits,
        **changed,
    )


# ---- mixtures ----------------------------------------------------------------------------------------------------


def test_a_mixture_is_the_sum_of_its_shares():
    (mixture,) = assess(with_toluene(one_tube(10.0))).mixtures
    assert mixture.upper.value == pytest.approx(10 / VOLUME_L + 20 / VOLUME_L, rel=1e-12)
    assert mixture.comparison.verdict == "under"


def test_a_mixture_without_a_result_for_one_agent_is_a_least_value_and_never_under():
    """Two agents with a result, one of the same effect without: nothing shows that it added nothing."""
    made = with_toluene(one_tube(10.0))
    third = Agent("xylene", "Xylene", "", 106.17, ("blood",))
    orders = {code: replace(order, methods=("M", "T", "X")) for code, order in made.orders.items()}
    made = replace(
        made,
        agents={**made.agents, "xylene": third},
        methods={**made.methods, "X": replace(made.methods["M"], code="X", agent="xylene")},
        orders=orders,
        limits=(*made.limits, replace(made.limits[0], agent="xylene")),
    )
    result = assess(made)
    (mixture,) = result.mixtures
    assert mixture.missing == ("Xylene",)
    assert mixture.comparison.verdict == "cannot tell"
    assert mixture.comparison.ratio_low == pytest.approx(30 / VOLUME_L, rel=1e-12)
    row = compose.mixture_verdict_row(result, mixture)
    assert "for want of a result: Xylene" in row.reason
    assert row.settles == "a result for Xylene"


def test_an_agent_of_another_effect_is_not_called_missing():
    made = with_toluene(one_tube(10.0))
    other = Agent("acid", "Acid", "", 60.0, ("irritation",))
    made = replace(
        made,
        agents={**made.agents, "acid": other},
        methods={**made.methods, "A": replace(made.methods["M"], code="A", agent="acid")},
        orders={code: replace(order, methods=("M", "T", "A")) for code, order in made.orders.items()},
    )
    (mixture,) = assess(made).mixtures
    assert mixture.missing == ()
    assert mixture.without_limit == ()


def test_an_agent_without_a_limit_of_that_authority_is_named_for_that_reason():
    made = with_toluene(one_tube(10.0))
    third = Agent("xylene", "Xylene", "", 106.17, ("blood",))
    results = [replace(row, agent="xylene") for row in made.results if row.agent == "toluene"]
    made = replace(
        made,
        agents={**made.agents, "xylene": third},
        methods={**made.methods, "X": replace(made.methods["M"], code="X", agent="xylene")},
        orders={code: replace(order, methods=("M", "T", "X")) for code, order in made.orders.items()},
        results=(*made.results, *results),
    )
    result = assess(made)
    (mixture,) = result.mixtures
    assert (mixture.missing, mixture.without_limit) == ((), ("Xylene",))
    assert "no long-term limit of House is stated for it: Xylene" in compose.mixture_verdict_row(result, mixture).reason


def test_two_agents_of_one_name_are_told_apart():
    made = with_toluene(one_tube(10.0))
    made = replace(made, agents={key: replace(agent, name="Solvent") for key, agent in made.agents.items()})
    (mixture,) = assess(made).mixtures
    assert mixture.agents == ("Solvent (benzene)", "Solvent (toluene)")


# ---- limits nothing is held against ------------------------------------------------------------------------------


def test_a_limit_in_ppm_without_a_molar_mass_is_said_and_never_passed_over():
    made = one_tube(10.0).survey()
    made = replace(
        made,
        agents={"benzene": replace(made.agents["benzene"], molar_mass=None)},
        limits=(*made.limits, replace(made.limits[0], unit="ppm", authority="Other")),
    )
    result = assess(made)
    (shift,) = result.shifts
    assert [v.limit.authority for v in shift.verdicts] == ["House"]
    ((limit, why),) = shift.not_compared
    assert limit.authority == "Other"
    assert "no molar mass of Benzene is stated" in why
    assert compose.not_compared(result) == 1
    assert any("no molar mass" in row.reason and "Other" in row.limit for row in compose.verdict_rows(result))
    assert result.has_findings


def test_a_survey_without_a_limit_is_no_clean_bill():
    result = assess(replace(one_tube(10.0).survey(), limits=()))
    (shift,) = result.shifts
    assert shift.verdicts == ()
    assert shift.note == "no long-term limit is stated"
    assert result.has_findings
    (row,) = compose.verdict_rows(result)
    assert row.settles == "a limit to hold it against"


@pytest.mark.parametrize("hours_per_week", [None, 39.0])
def test_a_limit_that_cannot_be_shortened_is_said_with_the_reason(hours_per_week):
    made = one_tube(10.0, stop_min=600, shift_min=600).survey()
    shift = replace(made.shifts["S-1"], hours_per_week=hours_per_week)
    limit = replace(made.limits[0], extended_shift_model="brief-scala-week")
    result = assess(replace(made, shifts={"S-1": shift}, limits=(limit,)))
    assert "cannot be shortened" in result.shifts[0].note


def test_a_limit_stated_for_ten_hours_holds_for_a_ten_hour_shift_as_it_stands():
    mass = 0.9 * FLOW_LPM * 600
    made = one_tube(mass, stop_min=600, shift_min=600, rule_book="us-osha").survey()
    limit = replace(made.limits[0], averaging_min=600.0)
    ((verdict,),) = (shift.verdicts for shift in assess(replace(made, limits=(limit,))).shifts)
    assert verdict.average.reference_min == 600
    assert verdict.comparison.ratio_high == pytest.approx(0.9, rel=1e-9)


def test_a_limit_averaged_over_four_hours_is_held_against_the_worst_four():
    """1.5 mg/m3 for four hours and 0.1 for the other four: 0.8 over eight, but 1.5 over four."""
    tubes = [Tube("L-1", 0, 240, 1.5 * FLOW_LPM * 240), Tube("L-2", 240, 480, 0.1 * FLOW_LPM * 240)]
    made = OneWorker(tubes).survey()
    limit = replace(made.limits[0], averaging_min=240.0)
    ((verdict,),) = (shift.verdicts for shift in assess(replace(made, limits=(limit,))).shifts)
    assert verdict.comparison.ratio_high == pytest.approx(1.5, rel=1e-9)
    assert verdict.comparison.verdict == "over"


# ---- time ----------------------------------------------------------------------------------------------------------


def test_the_worst_eight_hours_know_that_two_were_not_sampled():
    """480 of 600 min sampled at 0.5 of the limit: the other two hours could have been the worst."""
    made = one_tube(0.5 * FLOW_LPM * 480, shift_min=600, rule_book="us-osha", unsampled="zero")
    ((verdict,),) = (shift.verdicts for shift in assess(made.survey()).shifts)
    assert verdict.comparison.verdict == "cannot tell"
    assert "120 min without a sample" in verdict.settles
    proven = replace(made, unsampled_reason="at a meeting, seen by HB")
    ((known,),) = (shift.verdicts for shift in assess(proven.survey()).shifts)
    assert known.comparison.verdict == "under"
    assert known.comparison.ratio_high == pytest.approx(0.5, rel=1e-9)


def test_the_worst_hours_up_to_the_highest_sample_by_hand():
    """240 min at 0.9 and 240 at 0.3, 120 unsampled up to 0.9: worst 480 = (240 + 120)·0.9 + 120·0.3, least without."""
    tubes = [Tube("L-1", 0, 240, 0.9 * FLOW_LPM * 240), Tube("L-2", 240, 480, 0.3 * FLOW_LPM * 240)]
    made = OneWorker(tubes, shift_min=600, rule_book="us-osha", unsampled="highest", unsampled_reason="same task")
    ((verdict,),) = (shift.verdicts for shift in assess(made.survey()).shifts)
    assert verdict.comparison.ratio_high == pytest.approx((360 * 0.9 + 120 * 0.3) / 480, rel=1e-9)
    assert verdict.comparison.ratio_low == pytest.approx((240 * 0.9 + 240 * 0.3) / 480, rel=1e-9)


def test_a_stated_worst_case_is_not_softened_for_a_small_gap():
    made = one_tube(0.5 * FLOW_LPM * 460, stop_min=460, unsampled="highest", unsampled_reason="same task")
    ((verdict,),) = (shift.verdicts for shift in assess(made.survey()).shifts)
    assert "up to the highest sample" in verdict.average.treatment


def test_a_sampler_of_another_day_is_left_out_and_said():
    made = one_tube(20.0).survey()
    shift = made.shifts["S-1"]
    later = replace(shift, start=shift.start + timedelta(days=2), end=shift.end + timedelta(days=2))
    result = assess(replace(made, shifts={"S-1": later}))
    assert result.shifts[0].verdicts == ()
    assert "L-1 drew outside the shift" in result.shifts[0].note
    assert any("L-1 drew outside shift S-1" in note for note in result.notes)
    assert result.has_findings


def test_overtime_counts_as_worked_and_is_said():
    made = one_tube(0.5 * FLOW_LPM * 540, stop_min=540, rule_book="en-iso").survey()
    result = assess(made)
    ((verdict,),) = (shift.verdicts for shift in result.shifts)
    assert verdict.comparison.ratio_high == pytest.approx(0.5 * 540 / 480, rel=1e-9)
    assert any("60 of its 540 min" in note for note in result.notes)


@pytest.mark.parametrize(
    ("zone", "days_left", "holding_days"), [("UTC", 0, 4), ("Pacific/Honolulu", 0, 4), ("Pacific/Kiritimati", -1, 3)]
)
def test_a_certificate_is_due_by_the_calendar_of_the_place(zone, days_left, holding_days):
    """Read from 05:20 to 14:20 UTC on 10 March: to 04:20 of that day in Honolulu, of 11 March in Kiritimati."""
    made = one_tube(20.0).survey()
    meters = {"M-1": replace(made.meters["M-1"], due_on=date(2026, 3, 10))}
    result = assess(replace(made, meters=meters, site=replace(made.site, zone=zone)))
    assert result.samples[0].facts.certificate_days_left == days_left
    assert result.samples[0].facts.holding_days == holding_days


# ---- masses and blanks ---------------------------------------------------------------------------------------------


def test_a_mass_of_nothing_is_below_the_reporting_limit_not_proof_of_nothing():
    result = assess(one_tube(0.0, back_ug=None).survey())
    (sample,) = result.samples
    assert sample.mass.sense == "at most"
    assert sample.mass.value == pytest.approx(0.1)
    assert any("taken as below the reporting limit" in words for words in sample.assumptions)


def test_a_mass_of_nothing_without_a_reporting_limit_gives_no_concentration():
    made = one_tube(0.0, back_ug=None).survey()
    methods = {"M": replace(made.methods["M"], reporting_limit_ug=None)}
    results = tuple(replace(row, reporting_limit_ug=None) for row in made.results)
    result = assess(replace(made, methods=methods, results=results))
    assert result.samples[0].concentration is None
    assert result.shifts[0].verdicts == ()
    assert "L-1 has no concentration" in result.shifts[0].note


def test_a_blank_the_laboratory_took_off_is_no_choice_of_ours():
    made = one_tube(20.0, blank_ug=(2.0, 2.0), blanks_below=False, blank_corrected_by="laboratory")
    ((verdict,),) = (shift.verdicts for shift in assess(made.survey()).shifts)
    assert not any("blank" in other.words for other in verdict.others)
    ours = replace(made, blank_corrected_by="nobody")
    ((verdict,),) = (shift.verdicts for shift in assess(ours.survey()).shifts)
    (left_in,) = [other for other in verdict.others if "blank" in other.words]
    assert left_in.ratio_high == pytest.approx(20.0 / VOLUME_L, rel=1e-9)


# ---- what would settle, and overrides ------------------------------------------------------------------------------


def test_unsampled_minutes_do_not_settle_what_hangs_on_the_flow():
    """476 of 480 min sampled, under; only the lower flow would turn it: the flow is asked for, not the four minutes."""
    made = one_tube(40.0 * 476 / 480, stop_min=476, after=(90.0, 90.0, 90.0), analysis_cv=0.02, unsampled="zero")
    ((verdict,),) = (shift.verdicts for shift in assess(made.survey()).shifts)
    assert (verdict.comparison.verdict, verdict.robust) == ("under", False)
    assert verdict.settles.startswith("the flow in the course of the run")


def test_the_stated_error_is_about_the_average_that_is_shown():
    """Ten hours, worst eight: 300 min at 0.9 and 180 of 300 min at 0.4, not the mean of both over ten hours."""
    tubes = [Tube("L-1", 0, 300, 0.9 * FLOW_LPM * 300), Tube("L-2", 300, 600, 0.4 * FLOW_LPM * 300)]
    made = OneWorker(tubes, shift_min=600, rule_book="us-osha")
    ((verdict,),) = (shift.verdicts for shift in assess(made.survey()).shifts)
    (other,) = [o for o in verdict.others if "sampling and analytical error" in o.words]
    assert other.ratio_high == pytest.approx((300 * 0.9 + 180 * 0.4) / 480, rel=1e-9)
    assert other.ratio_high == pytest.approx(verdict.comparison.ratio_high, rel=1e-9)


def test_an_override_that_lifts_nothing_is_shown():
    made = one_tube(20.0).survey(overrides=(FindingOverride("L-1", "post-missing", "HB", "it was read"),))
    result = assess(made)
    rules = result.samples[0].standing.idle_overrides
    assert rules == ("post-missing",)
    (line,) = idle_override_lines(result)
    assert "post-missing" in line
    assert "L-1 (by HB)" in line
    assert result.has_findings


def test_a_ceiling_is_never_shown_to_be_kept_by_an_average():
    made = one_tube(0.1 * FLOW_LPM * 15, stop_min=15, purpose="ceiling", kind="ceiling", limit=1.0)
    ((verdict,),) = (short.verdicts for short in assess(made.survey()).short_terms)
    assert verdict.comparison.verdict == "cannot tell"
    assert verdict.settles.startswith("a reading at every instant")


def test_a_port_that_stood_still_beside_a_sample_does_not_stop_the_rest():
    """One port of the closing round shows nothing: the ratio of the ports has no meaning, the samples have."""
    made = one_tube(20.0).survey()
    entries = []
    for entry in made.entries:
        entries.append(entry)
        if entry.kind == "flow_read" and entry.fields["phase"] == "closing":
            still = {**entry.fields, "port": "B", "reading": "0"}
            entries.append(replace(entry, id=f"{entry.id}-b", fields=still, device="sheet-2"))
        if entry.kind == "closing_round":
            entries[-1] = replace(entry, fields={**entry.fields, "ports": "A B"})
    result = assess(replace(made, entries=tuple(entries)))
    assert result.samples[0].concentration.value == pytest.approx(20.0 / VOLUME_L, rel=1e-9)
