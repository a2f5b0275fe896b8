"""A report held against what was sent: what is missing, twice, of the wrong size or kind becomes a question."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from lapel.assessment.delivered_results import DeliveredResult
from lapel.assessment.laboratory_letter import laboratory_letter
from lapel.assessment.reconcile import accepted_results, reconcile, sent_samplers
from lapel.assessment.reconcile_matters import short
from lapel.assessment.report_versions import differences
from lapel.assessment.volumes import volumes_of
from lapel.exchange import read_survey
from lapel.fieldlog.day import fold
from lapel.reference import rule_book

EXAMPLES = Path(__file__).parents[2] / "examples"
SURVEY = read_survey(EXAMPLES / "small")
DAY = fold(SURVEY.entries)
VOLUMES = volumes_of(SURVEY, DAY, rule_book(SURVEY.rule_book))
SENT = sent_samplers(SURVEY, DAY, VOLUMES)


def delivered(**changes):
    """The report of the small example, as it would be read; `changes` by sampler."""
    rows = []
    for row in SURVEY.results:
        plain = DeliveredResult(
            sampler=row.sampler,
            agent=row.agent,
            front_ug=row.front_ug,
            front_below=row.front_below,
            back_ug=row.back_ug,
            back_below=row.back_below,
            reporting_limit_ug=row.reporting_limit_ug,
            recovery=row.recovery,
            relative_u=row.relative_u,
            volume_l=row.volume_l,
            medium=row.medium,
            analysed_on=row.analysed_on,
            origin=row.origin,
        )
        change = changes.get(row.sampler.replace("-", "_"), {})
        if change is not None:
            rows.append(replace(plain, **change))
    return rows


def matters(rows, **options):
    found = reconcile(rows, SENT, SURVEY, **options)
    return {(matter.kind, matter.sampler): matter for matter in found.matters}


def test_the_example_agrees_with_what_was_sent():
    """Three samples and four blanks went out; seven results came back."""
    found = reconcile(delivered(), SENT, SURVEY)
    assert len(found.in_scope) == len(found.matches) == 7
    assert found.matters == ()
    assert found.is_settled


def test_volumes_alone_are_those_of_the_whole_assessment():
    from lapel.assessment.survey import assess

    whole = {sample.sampler: sample.volume.value for sample in assess(SURVEY).samples}
    assert {code: VOLUMES[code] for code in whole} == whole


def test_a_missing_sample_and_a_missing_blank_are_asked_for():
    found = matters(delivered(L_102=None, L_105=None))
    assert found["sampler missing", "L-102"].weight == "ask"
    assert "L-102" in found["sampler missing", "L-102"].asks
    assert ("blank missing", "L-105") in found


def test_what_another_report_has_is_not_missing_here():
    assert matters(delivered(L_102=None), already={"L-102"}) == {}


def test_a_near_name_is_settled_by_a_person_first():
    rows = delivered(L_101={"sampler": "L 101"})
    assert not reconcile(rows, SENT, SURVEY).is_settled
    assert reconcile(rows, SENT, SURVEY, confirmed={"L 101": "L-101"}).is_settled


def test_an_unknown_name_is_settled_or_set_aside():
    rows = [*delivered(), replace(delivered()[0], sampler="Z-999")]
    assert not reconcile(rows, SENT, SURVEY).is_settled
    assert reconcile(rows, SENT, SURVEY, ignored=["Z-999"]).is_settled


def test_one_result_twice_is_settled_first():
    rows = [*delivered(), replace(delivered()[0], front_ug=1.0)]
    found = reconcile(rows, SENT, SURVEY)
    assert [matter.kind for matter in found.of_weight("settle")] == ["twice"]


@pytest.mark.parametrize(("factor", "slip"), [(1.2, False), (1000.0, True), (0.001, True)])
def test_another_volume_is_asked_and_a_factor_of_a_thousand_is_called_one(factor, slip):
    found = matters(delivered(L_101={"volume_l": 11.52 * factor}))
    assert ("1,000" in found["volume", "L-101"].asks) == slip


def test_a_volume_within_five_percent_is_none_of_our_business():
    assert matters(delivered(L_101={"volume_l": 11.52 * 1.03})) == {}


def test_a_concentration_is_recomputed_from_the_laboratorys_own_numbers():
    """1520 µg in 11.52 L are 131.9 mg/m3."""
    assert matters(delivered(L_101={"concentration_mg_m3": 131.9})) == {}
    assert "factor of 1,000" in matters(delivered(L_101={"concentration_mg_m3": 0.1319}))["concentration", "L-101"].asks
    recovered = matters(delivered(L_101={"concentration_mg_m3": 131.9 / 0.90, "recovery": 0.90}))
    assert "divided by the recovery" in recovered["concentration", "L-101"].found


def test_ppm_and_mg_m3_have_to_go_together():
    """Styrene, 104.152 g/mol: 131.9 mg/m3 are 31.0 ppm at 25 °C."""
    assert matters(delivered(L_101={"concentration_mg_m3": 131.9, "ppm": 31.0})) == {}
    assert ("ppm", "L-101") in matters(delivered(L_101={"concentration_mg_m3": 131.9, "ppm": 60.0}))


def test_a_reporting_limit_above_the_promised_one_is_asked_about():
    higher = matters(delivered(L_104={"reporting_limit_ug": 8.0, "front_ug": 8.0}))
    assert "agreed" in higher["reporting limit", "L-104"].asks
    assert "unit" in matters(delivered(L_104={"reporting_limit_ug": 5000.0}))["reporting limit", "L-104"].asks


def test_another_medium_is_asked_about_but_not_another_writing_of_it():
    assert matters(delivered(L_101={"medium": "Charcoal 100 / 50"})) == {}
    assert ("medium", "L-101") in matters(delivered(L_101={"medium": "silica gel"}))


def test_more_on_the_back_than_on_the_front_is_asked_as_a_turned_tube():
    found = matters(delivered(L_101={"front_ug": 20.0, "back_ug": 1500.0, "back_below": False}))
    assert "turned round" in found["back above front", "L-101"].asks


def test_sections_that_do_not_make_the_total_are_asked_about():
    found = matters(delivered(L_101={"back_ug": 100.0, "back_below": False, "total_ug": 1520.0}))
    assert ("sections", "L-101") in found


def test_a_blank_with_air_and_an_analysis_before_sampling_are_asked_about():
    found = matters(delivered(L_104={"volume_l": 10.0}, L_101={"analysed_on": date(2026, 1, 1)}))
    assert {("blank with air", "L-104"), ("analysed before sampling", "L-101")} <= set(found)


def test_an_agent_that_was_not_ordered_is_noted_and_one_that_is_missing_is_asked_for():
    rows = [row for row in delivered() if row.sampler != "L-103"] + [replace(delivered()[2], agent="styrene")]
    found = matters(rows)
    assert found["agent not ordered", "L-103"].weight == "note"
    assert found["agent missing", "L-103"].weight == "ask"


def test_what_was_not_analysed_is_no_result():
    rows = delivered(L_101={"front_ug": None, "back_ug": None, "not_analysed": "tube broken"})
    found = reconcile(rows, SENT, SURVEY)
    results, lost = accepted_results("R", rows, found.matches)
    assert lost == (("L-101", "styrene", "tube broken"),)
    assert "L-101" not in {row.sampler for row in results}


def test_unconfirmed_near_matches_give_no_results():
    rows = delivered(L_101={"sampler": "L 101"})
    results, _ = accepted_results("R", rows, reconcile(rows, SENT, SURVEY).matches)
    assert "L-101" not in {row.sampler for row in results}


def test_results_come_out_as_they_went_in():
    rows = delivered()
    results, lost = accepted_results("AB-26-1187", rows, reconcile(rows, SENT, SURVEY).matches)
    assert lost == ()
    assert results == SURVEY.results


def test_the_letter_asks_each_question_once_and_names_no_worker():
    rows = delivered(L_101={"volume_l": 20.0}, L_102={"medium": "silica gel"})
    letter = laboratory_letter(reconcile(rows, SENT, SURVEY).matters, report="AB-26-1187", laboratory="Alder Bay")
    assert "2 questions" in letter
    assert letter.count("L-101") == 1
    assert not any(worker in letter for worker in SURVEY.workers)
    assert laboratory_letter((), report="x", laboratory="y") == ""


def test_an_amended_report_shows_what_changed():
    old = SURVEY.results
    new = (replace(old[0], front_ug=1530.0, remark="re-integrated"), *old[2:])
    words = [difference.words() for difference in differences(old, new)]
    assert words == [
        "L-101, styrene: front section, µg: 1520 → 1530",
        "L-101, styrene: remark: nothing → re-integrated",
        "L-102, styrene: result: 808 µg → nothing",
    ]


@pytest.mark.parametrize(
    ("value", "figures", "text"),
    [(29200.0, 4, "29200"), (123456.0, 4, "123500"), (131.94, 4, "131.9"), (20.6, 4, "20.6"), (0.08333, 3, "0.0833")],
)
def test_a_question_to_the_laboratory_has_its_numbers_in_plain_decimals(value, figures, text):
    assert short(value, figures) == text
