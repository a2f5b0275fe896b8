"""A plan on record: made of a folder's plan and written as one again, without loss; the plan in force with it."""

import shutil
from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import pytest
from cast import make_cast
from django.contrib.auth.models import User
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from lapel.assessment.plan_by_hand import hand_trains
from lapel.assessment.planned import groundwork, plan_survey
from lapel.assessment.recorded_plan import recorded_plan
from lapel.exchange.plan_folder.reader import PlanFolder, read_plan
from lapel.exchange.plan_now import kept, plan_now, planned_day
from lapel.exchange.plan_records import ORIGIN, order_samples
from lapel.exchange.problems import InputProblems
from lapel.exchange.record_export import export_survey
from lapel.exchange.record_transfer import import_survey
from lapel.exchange.survey_folder.writer_check import plan_differences
from lapel.records.models import LogEntry, PlannedTrain, PlanTerms, Pump, SampleOrder, Shift, Survey, Worker
from lapel.records.plans import put_in_force

PLAN = Path(__file__).parents[2] / "examples" / "plan"


@pytest.fixture
def recorded(db):
    """The example's survey on record, before anything is ordered."""
    user = User.objects.create_user("lead")
    return import_survey(PLAN, survey_code="plan", site_code="works", user=user).survey


@pytest.fixture(scope="module")
def searched():
    """The example's plan as the search finds it; one search for all tests."""
    return plan_survey(read_plan(PLAN))


@pytest.fixture
def in_force(recorded, searched):
    put_in_force(recorded, kept(hand_trains(searched), groundwork(searched.inputs)), user=None, reason="found")
    return recorded


def trains_of(plan):
    return [
        (t.code, t.day, t.worker, t.pump, t.splitter, t.technician, t.hang_at_min,
         [(p.letter, p.kind.code, p.flow_lpm) for p in t.ports])
        for t in plan.trains
    ]  # fmt: skip


def test_a_plan_on_record_says_what_its_folder_says(recorded):
    assert plan_differences(read_plan(PLAN), recorded_plan(recorded)) == ()


def test_every_part_of_a_plan_is_compared(recorded):
    """What the comparison does not look at could be lost unseen: each part of the inputs, changed, is named."""
    inputs = recorded_plan(recorded)
    for part in fields(inputs):
        if part.name in ("input_sha256", "made_on"):
            continue
        value = getattr(inputs, part.name)
        other = None if not isinstance(value, (tuple, dict)) else type(value)()
        if other != value:
            found = plan_differences(inputs, replace(inputs, **{part.name: other}))
            assert found, part.name


def test_an_exported_plan_reads_as_it_was_and_plans_the_same(recorded, searched, tmp_path):
    written = export_survey(recorded, tmp_path / "out")
    assert (written.problems, written.differences) == ((), ())
    assert not (tmp_path / "out" / "samples.csv").exists()
    again = plan_survey(read_plan(tmp_path / "out"))
    assert trains_of(again) == trains_of(searched)


def test_the_plan_in_force_travels_with_the_folder(in_force, searched, tmp_path):
    written = export_survey(in_force, tmp_path / "out")
    assert written.differences == ()
    Survey.objects.all().delete()
    PlannedTrain.objects.all().delete()
    back = import_survey(tmp_path / "out", survey_code="again", site_code="works").survey
    now = plan_now(back)
    assert trains_of(now.plan) == trains_of(searched)
    assert now.plan.faults == ()


def test_a_folder_in_force_is_checked_by_the_command_line(in_force, tmp_path, capsys):
    from lapel.cli.main import main

    export_survey(in_force, tmp_path / "out")
    code = main(["plan", str(tmp_path / "out"), "--checked", str(tmp_path / "out" / "plan" / "trains.csv")])
    assert code == 0
    assert "finds nothing against it" in capsys.readouterr().out


def test_a_folder_whose_plan_has_a_fault_leaves_nothing_on_record(db, tmp_path):
    folder = tmp_path / "broken"
    shutil.copytree(PLAN, folder)
    wanted = folder / "plan" / "wanted.csv"
    wanted.write_text(wanted.read_text(encoding="utf-8").replace("Q3,LAC,,formaldehyde", "Q3,LAC,,benzol"), "utf-8")
    with pytest.raises(InputProblems, match="benzol"):
        import_survey(folder)
    assert not Survey.objects.exists()


def test_every_act_on_a_plan_has_its_history(recorded):
    terms = PlanTerms.objects.get(survey=recorded)
    terms.seed = "another"
    terms.save()
    seeds = list(PlanTerms.history.filter(survey_id=recorded.pk).order_by("history_id").values_list("seed", flat=True))
    assert seeds == ["marrowby 2026-05-20", "another"]
    assert recorded.planquestions.first().history.count() == 1


def test_trains_that_stay_are_not_touched_when_a_plan_is_put_in_force(in_force, searched):
    before = set(in_force.planned_trains.values_list("pk", flat=True))
    trains = kept(hand_trains(searched), groundwork(searched.inputs))
    changed = [{**trains[0], "pump": "P-99"}, *trains[1:]]
    assert put_in_force(in_force, changed, user=None, reason="moved") == (1, 1)
    after = set(in_force.planned_trains.values_list("pk", flat=True))
    assert len(before & after) == len(trains) - 1
    gone = PlannedTrain.history.get(history_type="-")
    assert (gone.pump, gone.history_change_reason) == (trains[0]["pump"], "moved")


def test_a_planned_train_that_names_what_is_gone_is_a_fault_and_never_repaired(in_force):
    Pump.objects.filter(site=in_force.site, code="P-11").update(retired_on=date(2026, 6, 1))
    now = plan_now(in_force)
    assert any("pump P-11 is not in the register, or retired" in fault.words for fault in now.plan.faults)
    assert in_force.planned_trains.filter(pump="P-11").exists()
    assert now.plan.has_findings


def test_a_question_that_was_taken_away_leaves_its_samplers_without_one(in_force):
    in_force.planquestions.filter(code="Q5").delete()
    faults = plan_now(in_force).plan.faults
    assert any("answers no question of this plan any more" in fault.words for fault in faults)


def test_kinds_are_found_again_when_their_codes_move(in_force, searched):
    """Q1 goes to the end of the questions: codes K1, K2 … are given anew, and every port keeps its sampler."""
    question = in_force.planquestions.get(code="Q1")
    question.pk = None
    in_force.planquestions.filter(code="Q1").delete()
    question.save()
    now = plan_now(in_force)
    assert now.plan.faults == ()

    def by_content(plan):
        return {(t.day, t.worker, t.pump): [(p.letter, p.kind.option.agents, p.kind.option.medium) for p in t.ports]
                for t in plan.trains}  # fmt: skip

    assert by_content(now.plan) == by_content(searched)


def test_a_plan_on_record_asks_the_same_number_of_queries_however_large(in_force, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as small:
        plan_now(in_force)
    group = in_force.site.groups.first()
    Worker.objects.bulk_create(Worker(site=in_force.site, group=group, code=f"Z-{n}") for n in range(40))
    row = in_force.planned_trains.first()
    PlannedTrain.objects.bulk_create(
        PlannedTrain(survey=in_force, day=row.day, worker=row.worker, pump=f"P-{n}", technician="TA",
                     hang_at_min=300, ports=row.ports)
        for n in range(200)
    )  # fmt: skip
    with django_assert_num_queries(len(small)):
        plan_now(in_force)


def test_a_methods_rule_for_duplicates_comes_back_from_a_folder(recorded, tmp_path):
    recorded.methods.filter(code="1501-xylene").update(duplicates_min=2, duplicates_share=0.125)
    assert export_survey(recorded, tmp_path / "out").differences == ()
    methods = PlanFolder(tmp_path / "out").inputs.methods
    assert (methods["1501-xylene"].duplicates_min, methods["1501-xylene"].duplicates_share) == (2, 0.125)
    assert (methods["1501-toluene"].duplicates_min, methods["1501-toluene"].duplicates_share) == (None, None)


@settings(
    max_examples=12,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    phases=[Phase.explicit, Phase.generate],
)
@given(
    strategy=st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=200),
    seed=st.text("abc 123-", min_size=1, max_size=30).filter(lambda text: text.strip() == text),
    shares=st.tuples(st.integers(0, 10000), st.integers(0, 10000)),
    ports=st.tuples(st.floats(0.001, 0.1), st.floats(0.1, 1.0)),
    minutes=st.integers(1, 60),
    rates=st.tuples(st.none() | st.floats(0, 1e5), st.none() | st.floats(0, 1e5)),
    kelvin=st.none() | st.floats(250, 320).map(lambda k: round(k, 2)),
)
def test_any_terms_come_back_from_a_folder(
    recorded, tmp_path_factory, strategy, seed, shares, ports, minutes, rates, kelvin
):
    strategy = strategy.strip() or "x"
    PlanTerms.objects.filter(survey=recorded).update(
        strategy=strategy, seed=seed, duplicates_share=shares[0] / 100.0 / 100.0, spares_share=shares[1] / 100 / 100.0,
        port_min_lpm=round(ports[0], 6), port_max_lpm=round(ports[1], 6), hang_min=minutes,
        technician_day=rates[0], pump_day=rates[1], air_temperature_k=kelvin,
    )  # fmt: skip
    folder = tmp_path_factory.mktemp("terms") / "out"
    written = export_survey(recorded, folder)
    assert written.differences == ()
    assert [problem for problem in written.problems if "hang" not in str(problem)] == []
    assert PlanFolder(folder).inputs.seed == seed


class TestOrdering:
    """Samples ordered from the plan in force."""

    def test_every_sample_of_the_plan_is_ordered_with_its_shift_and_methods(self, in_force):
        now = plan_now(in_force)
        done = order_samples(in_force, now.plan, now.products, user=None)
        samples = [s for s in now.products.samplers if s.use == "sample"]
        assert (done.new, SampleOrder.objects.count()) == (len(samples), len(samples))
        order = SampleOrder.objects.select_related("shift__worker").get(code=samples[0].code)
        train = now.plan.trains_on(samples[0].day)[0]
        assert (order.shift.worker.code, order.purpose, order.methods) == (
            train.worker, "full shift", ["1501-toluene", "1501-xylene"],
        )  # fmt: skip
        offered = next(s for s in now.inputs.shifts if (s.day, s.group) == (train.day, "LAC"))
        assert (order.shift.start, order.shift.end) == (offered.start, offered.end)
        assert Shift.objects.filter(origin=ORIGIN).count() == len({(t.worker, t.day) for t in now.plan.trains})

    def test_ordering_again_changes_nothing(self, in_force):
        now = plan_now(in_force)
        order_samples(in_force, now.plan, now.products, user=None)
        done = order_samples(in_force, now.plan, now.products, user=None)
        assert (done.new, done.changed, done.taken_back) == (0, 0, 0)

    def test_a_sample_that_left_the_plan_is_taken_back_unless_the_log_names_it(self, in_force):
        now = plan_now(in_force)
        order_samples(in_force, now.plan, now.products, user=None)
        last = sorted(s.code for s in now.products.samplers if s.use == "sample")[-2:]
        LogEntry.objects.create(
            entry_id="e1", survey=in_force, kind="sampler_fitted", at="2026-06-09T06:00Z", at_text="2026-06-09T06:00Z",
            device="d", sequence=1, author="TA", fields={"sampler": last[1]}, received_at="2026-06-09T06:00Z",
        )  # fmt: skip
        in_force.planned_trains.filter(day=now.plan.days[-1]).delete()
        now = plan_now(in_force)
        done = order_samples(in_force, now.plan, now.products, user=None)
        assert done.taken_back > 0
        codes = set(SampleOrder.objects.values_list("code", flat=True))
        assert last[1] in codes
        assert last[0] not in codes

    def test_a_plan_with_faults_orders_nothing(self, in_force):
        in_force.planned_trains.filter(pump="P-12").update(pump="P-13")
        now = plan_now(in_force)
        with pytest.raises(ValueError, match="faults"):
            order_samples(in_force, now.plan, now.products, user=None)
        assert not SampleOrder.objects.exists()

    def test_a_code_that_is_taken_by_another_sample_is_refused(self, db, in_force):
        now = plan_now(in_force)
        code = next(s.code for s in now.products.samplers if s.use == "sample")
        worker = in_force.site.workers.first()
        shift = Shift.objects.create(
            survey=in_force, code="s", worker=worker, start="2026-06-08T06:00Z", start_offset_min=0,
            end="2026-06-08T14:00Z", end_offset_min=0,
        )  # fmt: skip
        SampleOrder.objects.create(survey=in_force, code=code, shift=shift, purpose="full shift")
        with pytest.raises(ValueError, match="did not come from the plan"):
            order_samples(in_force, now.plan, now.products, user=None)

    def test_a_survey_with_its_samples_ordered_goes_out_whole_and_comes_back(self, in_force, tmp_path):
        now = plan_now(in_force)
        order_samples(in_force, now.plan, now.products, user=None)
        export_survey(in_force, tmp_path / "out")
        assert (tmp_path / "out" / "samples.csv").exists()
        assert plan_differences(recorded_plan(in_force), PlanFolder(tmp_path / "out").inputs) == ()


def test_the_day_as_planned_names_trains_ports_and_samplers(in_force):
    day = planned_day(in_force, date(2026, 6, 8))
    first = day["trains"][0]
    assert (first["code"], first["hang_at_min"]) == ("T1", 5 * 60 + 36)
    assert first["ports"][0]["methods"] == ["1501-toluene", "1501-xylene"]
    assert len(first["ports"][0]["samplers"]) == 1
    assert {blank["medium"] for blank in day["blanks"]} == {
        "charcoal 100/50",
        "DNPH silica 300",
        "beaded carbon 160/80",
    }
    assert planned_day(in_force, date(2026, 6, 20)) is None


def test_a_survey_that_came_without_a_plan_goes_out_without_one(db, tmp_path):
    export_survey(make_cast().survey, tmp_path / "out")
    assert not (tmp_path / "out" / "plan").exists()
