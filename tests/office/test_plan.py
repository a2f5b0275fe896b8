"""The pages of a plan: hand edits are checked and never put right, searches run beside the pages."""

import json
from pathlib import Path

import pytest
from cast import make_cast
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from read_page import text_of

from lapel.assessment.plan_by_hand import hand_trains
from lapel.assessment.planned import groundwork, plan_survey
from lapel.exchange.plan_folder.reader import read_plan
from lapel.exchange.plan_lists import LISTS
from lapel.exchange.plan_now import kept, plan_now
from lapel.exchange.record_transfer import import_survey
from lapel.office.plan import searching
from lapel.records.models import (
    Membership,
    PlanLaboratory,
    PlanQuestion,
    PlanSearch,
    PlanTechnician,
    PlanTerms,
    Pump,
    SampleOrder,
)
from lapel.records.plans import SILENT_AFTER, ask_for_search, is_under_way, kept_trains, put_in_force

EXAMPLE = Path(__file__).parents[2] / "examples" / "plan"
PLAN = "/surveys/plan/plan/"


@pytest.fixture(scope="module")
def searched():
    return plan_survey(read_plan(EXAMPLE))


@pytest.fixture
def people(db):
    """A lead, a viewer and a stranger of the example's site, with its survey on record."""
    lead, viewer = User.objects.create_user("lead"), User.objects.create_user("viewer")
    survey = import_survey(EXAMPLE, survey_code="plan", site_code="works", user=lead).survey
    Membership.objects.create(user=viewer, site=survey.site, role="viewer")
    return {"lead": lead, "viewer": viewer, "stranger": User.objects.create_user("stranger"), "survey": survey}


@pytest.fixture
def survey(people, searched):
    """The survey with the plan in force as a search left it."""
    found = people["survey"]
    now = plan_now(found)
    trains = kept(hand_trains(searched), groundwork(searched.inputs))
    outcome = {
        "trains": trains, "missing": [], "advice": [],
        "goals": [[g.name, g.reached, g.bound] for g in searched.campaign.goals],
    }  # fmt: skip
    PlanSearch.objects.create(
        survey=found, seconds=30, standing="done", input_sha256=now.inputs.input_sha256, outcome=outcome
    )
    put_in_force(found, trains, user=None, reason="found")
    return found


@pytest.fixture
def lead(people, survey, as_person):
    return as_person(people["lead"])


@pytest.fixture
def no_process(monkeypatch):
    """Searches are asked for, and no process is started: a test works on them itself."""
    asked = []
    monkeypatch.setattr(searching, "start", asked.append)
    return asked


def edit(survey, **changes):
    """The form of the first train on the first day, with changes."""
    row = survey.planned_trains.first()
    now = plan_now(survey)
    train = next(t for t in now.trains if t.origin == str(row.pk))
    form = {
        "day": train.day, "worker": train.worker, "pump": train.pump, "splitter": train.splitter,
        "technician": train.technician, "hang_at": f"{train.hang_at_min // 60:02d}:{train.hang_at_min % 60:02d}",
        "reason": "tried",
    }  # fmt: skip
    for letter, kind, flow in train.ports:
        form |= {f"kind-{letter}": kind, f"flow-{letter}": flow * 1000}
    return row, form | changes


def test_the_plan_shows_its_proof_its_days_and_who_wears_what(lead):
    page = text_of(lead.get(PLAN))
    assert "Proven: no plan does more" in page
    assert "The independent checker finds nothing against it." in page
    assert "2026-06-08" in page
    assert "A 11.4 mL/min charcoal 100/50" in page


def test_a_day_can_be_read_technician_by_technician(lead, survey):
    page = text_of(lead.get(PLAN, {"day": "2026-06-08", "technician": "TB"}))
    mine = {t.pump for t in plan_now(survey).plan.trains_on("2026-06-08") if t.technician == "TB"}
    others = {t.pump for t in plan_now(survey).plan.trains_on("2026-06-08")} - mine
    assert all(pump in page for pump in mine)
    assert not any(f"{pump} " in page for pump in others)


class TestByHand:
    """Hand edits."""

    def test_a_check_says_what_is_wrong_and_keeps_nothing(self, lead, survey):
        row, form = edit(survey, pump="P-11", do="check")
        answer = lead.post(f"{PLAN}trains/{row.pk}/", form)
        assert "Pump P-11 is on 2 workers at once" in text_of(answer)
        row.refresh_from_db()
        assert row.pump != "P-11"

    def test_a_script_gets_the_verdict_alone(self, lead, survey):
        row, form = edit(survey, pump="P-11")
        answer = lead.post(f"{PLAN}trains/{row.pk}/", form, headers={"HX-Request": "true"})
        assert answer.content.decode().strip().startswith('<div id="verdict"')

    def test_what_is_kept_with_a_fault_stays_as_it_was_written(self, lead, survey):
        row, form = edit(survey, pump="P-11", do="keep")
        assert lead.post(f"{PLAN}trains/{row.pk}/", form).status_code == 302
        row.refresh_from_db()
        assert row.pump == "P-11"
        page = text_of(lead.get(PLAN))
        assert "Nothing was put right" in page
        assert "Pump P-11 is on 2 workers at once" in page
        assert "None while the plan has faults" in page
        assert lead.get(f"{PLAN}papers/labels.pdf").status_code == 302

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"hang_at": "09:00"}, "L-04"),
            ({"technician": "TB"}, ""),
            ({"flow-A": "90"}, "90"),
            ({"day": "2026-06-12"}, ""),
            ({"worker": "L-01"}, "L-01"),
            ({"kind-A": "K5"}, "K5"),
        ],
    )
    def test_every_kind_of_edit_is_checked_at_once(self, lead, survey, changes, words):
        row, form = edit(survey, **changes, do="check")
        answer = lead.post(f"{PLAN}trains/{row.pk}/", form)
        assert answer.status_code == 200
        page = text_of(answer)
        assert "What the checker has against it" in page or "finds nothing against the plan" in page
        if words:
            assert words in page

    def test_a_flow_outside_the_window_is_named(self, lead, survey):
        row, form = edit(survey, **{"flow-A": "90"}, do="check")
        assert "What the checker has against it" in text_of(lead.post(f"{PLAN}trains/{row.pk}/", form))

    def test_a_flow_is_shown_with_four_digits_and_stays_to_the_last_bit_unless_it_is_written_anew(self, lead, survey):
        row, form = edit(survey)
        before = row.ports
        shown = lead.get(f"{PLAN}trains/{row.pk}/").context["form"]
        assert [flow.value() for kind, flow in shown.ports() if kind.value()] == [
            float(f"{port['flow_lpm'] * 1000:.4g}") for port in before
        ]
        as_shown = {flow.html_name: flow.value() for kind, flow in shown.ports() if kind.value()}
        lead.post(f"{PLAN}trains/{row.pk}/", form | as_shown | {"do": "keep"})
        row.refresh_from_db()
        assert row.ports == before
        lead.post(f"{PLAN}trains/{row.pk}/", form | as_shown | {"flow-A": "11.72", "do": "keep"})
        row.refresh_from_db()
        assert row.ports[0]["flow_lpm"] == 0.01172

    def test_an_edit_ends_the_proof(self, lead, survey):
        row, form = edit(survey, technician="TB", do="keep")
        lead.post(f"{PLAN}trains/{row.pk}/", form)
        page = text_of(lead.get(PLAN))
        assert "nothing is proven of it" in page
        assert row.history.count() == 2
        assert row.history.first().history_change_reason == "tried"

    def test_a_train_taken_out_leaves_what_it_answered_among_what_is_missing(self, lead, survey):
        row = survey.planned_trains.first()
        lead.post(f"{PLAN}trains/{row.pk}/out/", {"reason": "broken"})
        page = text_of(lead.get(PLAN))
        assert "What cannot be done" in page
        assert row.worker.code in page

    def test_a_train_can_be_added(self, lead, survey):
        before = survey.planned_trains.count()
        _, form = edit(survey, pump="P-18", splitter="", do="keep")
        lead.post(f"{PLAN}trains/new/", form)
        assert survey.planned_trains.count() == before + 1


class TestSearching:
    """Searches, in a process of their own."""

    def test_a_search_finds_what_the_command_line_finds(self, people, searched, as_person, no_process):
        client = as_person(people["lead"])
        answer = client.post(f"{PLAN}search/", {"seconds": "30"})
        search = no_process[0]
        assert answer.url == f"{PLAN}search/{search.pk}/"
        assert "The process is starting" in text_of(client.get(answer.url))
        searching.work_on(search.pk, watched=False)
        search.refresh_from_db()
        assert search.standing == "done"
        assert kept_trains(people["survey"]) == kept(hand_trains(searched), groundwork(searched.inputs))
        assert "proven best" in text_of(client.get(answer.url))

    def test_only_one_search_of_a_survey_is_under_way(self, lead, no_process):
        first = lead.post(f"{PLAN}search/").url
        assert lead.post(f"{PLAN}search/").url == first
        assert len({search.pk for search in no_process}) == 1

    def test_a_plan_edited_by_hand_is_never_thrown_away_by_a_search(self, lead, survey, no_process):
        row, form = edit(survey, technician="TB", do="keep")
        lead.post(f"{PLAN}trains/{row.pk}/", form)
        edited = kept_trains(survey)
        url = lead.post(f"{PLAN}search/").url
        searching.work_on(no_process[0].pk, watched=False)
        assert kept_trains(survey) == edited
        assert "Take this plan instead" in text_of(lead.get(url))
        lead.post(f"{url}take/")
        assert kept_trains(survey) != edited

    def test_a_search_stops_when_asked_and_changes_nothing(self, lead, survey, no_process):
        before = kept_trains(survey)
        url = lead.post(f"{PLAN}search/").url
        lead.post(f"{url}stop/")
        searching.work_on(no_process[0].pk, watched=False)
        assert PlanSearch.objects.first().standing == "stopped"
        assert kept_trains(survey) == before

    def test_a_search_that_breaks_says_so(self, lead, survey, no_process, monkeypatch):
        def broken(*_args, **_kwargs):
            raise MemoryError("no memory left")

        url = lead.post(f"{PLAN}search/").url
        monkeypatch.setattr(searching, "plan_survey", broken)
        with pytest.raises(MemoryError):
            searching.work_on(no_process[0].pk, watched=False)
        assert "The search broke off: no memory left" in text_of(lead.get(url))

    def test_a_process_that_fell_silent_is_said_to_be_gone(self, lead, survey, no_process):
        url = lead.post(f"{PLAN}search/").url
        PlanSearch.objects.filter(pk=no_process[0].pk).update(
            standing="working", heard_at=timezone.now() - SILENT_AFTER * 2
        )
        assert "has not been heard of" in text_of(lead.get(url))
        assert not is_under_way(PlanSearch.objects.get(pk=no_process[0].pk))
        assert ask_for_search(survey, user=None, seconds=1).pk != no_process[0].pk

    def test_without_a_question_nothing_is_searched(self, lead, survey, no_process):
        survey.planquestions.all().delete()
        lead.post(f"{PLAN}search/")
        assert no_process == []
        page = text_of(lead.get(PLAN))
        assert "Still needed before a plan can be made" in page

    def test_a_dead_pump_is_bent_around_and_nothing_changes_before_somebody_takes_it(self, lead, survey, no_process):
        before = kept_trains(survey)
        pump = next(t["pump"] for t in before if t["day"] == "2026-06-09")
        url = lead.post(f"{PLAN}change/", {"from_day": "2026-06-09", "pumps": [pump], "workers": "", "days": []}).url
        searching.work_on(no_process[0].pk, watched=False)
        assert kept_trains(survey) == before
        page = text_of(lead.get(url))
        assert "What moves" in page
        assert "The independent checker finds nothing against it." in page
        lead.post(f"{url}take/")
        after = kept_trains(survey)
        assert not any(t["pump"] == pump for t in after if t["day"] >= "2026-06-09")
        assert [t for t in after if t["day"] < "2026-06-09"] == [t for t in before if t["day"] < "2026-06-09"]

    def test_an_absence_taken_over_is_known_to_the_next_search(self, lead, survey, no_process):
        day = {"from_day": "2026-06-09", "pumps": [], "workers": "L-06", "days": ["2026-06-09"]}
        url = lead.post(f"{PLAN}change/", day).url
        searching.work_on(no_process[0].pk, watched=False)
        lead.post(f"{url}take/")
        assert survey.plan_workers.get(worker__code="L-06").away_on == ["2026-06-09"]
        assert plan_now(survey).plan.faults == ()


def test_what_nobody_priced_is_not_counted_as_free(lead, survey):
    survey.plan_media.update(cost=0)
    survey.plan_laboratories.update(cost=0)
    PlanTerms.objects.filter(survey=survey).update(technician_day=None, pump_day=None)
    page = text_of(lead.get(PLAN))
    assert "Cost: no rate is given yet" in page
    assert "0.00" not in page.split("Cost: ")[1].split("Papers")[0]


def test_one_reason_for_several_workers_is_told_once_on_the_searchs_page(lead, survey):
    search = PlanSearch.objects.first()
    search.outcome["missing"] = [["L-01", "toluene", 1, "Too few pumps."], ["L-02", "toluene", 2, "Too few pumps."]]
    search.save()
    page = text_of(lead.get(f"{PLAN}search/{search.pk}/"))
    assert page.count("Too few pumps.") == 1
    assert "L-01: toluene; L-02: toluene × 2" in page


class TestPapers:
    """What can be fetched."""

    @pytest.mark.parametrize("name", ["sampling-plan.pdf", "day-sheets.pdf", "labels.pdf"])
    def test_papers_are_whole_pdfs(self, lead, name):
        answer = lead.get(f"{PLAN}papers/{name}")
        assert answer.content.startswith(b"%PDF-")
        assert answer["Content-Disposition"] == f'attachment; filename="plan-{name}"'

    @pytest.mark.parametrize("name", list(LISTS))
    def test_lists_hold_what_the_plan_holds(self, lead, survey, name):
        lines = lead.get(f"{PLAN}papers/{name}.csv").content.decode("utf-8-sig").splitlines()
        products = plan_now(survey).products
        counted = {
            "kit": sum(s.use == "sample" for s in products.samplers), "order": len(products.kit),
            "blanks": sum(s.use == "field blank" for s in products.samplers), "time-table": len(products.acts),
            "cost": len(products.costs) + 1,
        }  # fmt: skip
        assert len(lines) == counted[name] + 1

    def test_the_open_data_are_those_of_the_command_line(self, lead, searched):
        from lapel.assessment.plan_products import products_of
        from lapel.exchange.plan_json import plan_as_data

        here = json.loads(lead.get(f"{PLAN}papers/plan.json").content)
        there = json.loads(json.dumps(plan_as_data(searched, products_of(searched))))
        for part in ("input_sha256",):
            here.pop(part), there.pop(part)
        assert here == there

    def test_a_paper_that_is_none_is_not_there(self, lead):
        assert lead.get(f"{PLAN}papers/secrets.pdf").status_code == 404

    def test_the_plan_orders_its_samples(self, lead, survey):
        lead.post(f"{PLAN}order/")
        products = plan_now(survey).products
        assert SampleOrder.objects.count() == sum(s.use == "sample" for s in products.samplers)
        assert "26" in text_of(lead.get("/surveys/plan/")) or SampleOrder.objects.exists()


class TestMadeFrom:
    """Tables, terms and the first page."""

    def test_a_table_is_kept_whole_or_not_at_all(self, lead, survey):
        rows = list(survey.plantechnicians.order_by("id"))
        form = {"technicians-TOTAL_FORMS": 3, "technicians-INITIAL_FORMS": 2, "reason": "new"}
        for place, row in enumerate(rows):
            form |= {f"technicians-{place}-id": row.pk, f"technicians-{place}-code": row.code,
                     f"technicians-{place}-away_on": "; ".join(row.away_on)}  # fmt: skip
        twice = form | {"technicians-2-id": "", "technicians-2-code": "TA", "technicians-2-away_on": ""}
        answer = lead.post(f"{PLAN}tables/technicians/", twice)
        assert (answer.status_code, PlanTechnician.objects.count()) == (422, 2)
        assert "Found TA twice" in text_of(answer)
        bad = form | {"technicians-2-id": "", "technicians-2-code": "TC", "technicians-2-away_on": "next week"}
        assert lead.post(f"{PLAN}tables/technicians/", bad).status_code == 422
        good = form | {"technicians-2-id": "", "technicians-2-code": "TC", "technicians-2-away_on": "2026-06-09"}
        assert lead.post(f"{PLAN}tables/technicians/", good).status_code == 302
        assert PlanTechnician.objects.get(code="TC").away_on == ["2026-06-09"]

    @pytest.mark.parametrize(
        "name",
        ["wanted", "laboratory", "technicians", "workers", "media", "lots", "areas", "days", "products", "groups"],
    )
    def test_a_table_sent_as_it_came_changes_nothing(self, lead, survey, name):
        page = lead.get(f"{PLAN}tables/{name}/")
        assert "---------" not in page.content.decode(), "every list says what an empty choice means"
        rows = page.context["rows"]
        form = {f.html_name: f.value() for f in rows.management_form}
        for row in rows.forms:
            for field in row:
                value = field.value()
                if field.field.widget.input_type == "checkbox" if hasattr(field.field.widget, "input_type") else False:
                    if value:
                        form[field.html_name] = "on"
                elif value is not None:
                    form[field.html_name] = value if isinstance(value, (str, int, float)) else str(value)
        before = plan_now(survey).inputs.input_sha256
        assert lead.post(f"{PLAN}tables/{name}/", form).status_code == 302
        assert plan_now(survey).inputs.input_sha256 == before

    def test_other_terms_show_the_plan_as_outdated_and_check_it_again(self, lead, survey):
        page = lead.get(f"{PLAN}terms/")
        form = {name: (field.value() if field.value() is not None else "") for name, field in
                ((f.html_name, f) for f in page.context["form"])}  # fmt: skip
        form |= {"pumps_per_technician": 1, "may_cap": "on", "reason": "fewer hands"}
        assert lead.post(f"{PLAN}terms/", form).status_code == 302
        page = text_of(lead.get(PLAN))
        assert "What the plan is made from has changed since the search" in page
        assert "can be watched" in page

    def test_a_first_plan_is_begun_on_one_page(self, db, as_person):
        cast = make_cast()
        client = as_person(cast.lead)
        PlanLaboratory.objects.all().delete()
        form = client.get("/surveys/demo/plan/start/").context["form"]
        given = {"ask": [key for key, _ in form.asked], "laboratory": "Bench", "technicians": "TA; TB",
                 "pump_codes": "X-1 to X-3", "pump_min": "5", "pump_max": "500", "port_min": "5", "port_max": "300",
                 "splitter_ports": "2"}  # fmt: skip
        for row in form.method_rows():
            given |= {f"desorption-{row['method'].pk}": "solvent", f"limit-{row['method'].pk}": "5"}
        assert client.post("/surveys/demo/plan/start/", given).status_code == 302
        assert PlanQuestion.objects.count() == len(form.asked) > 0
        assert Pump.objects.get(code="X-2").flow_max_lpm == 0.5
        assert client.get("/surveys/demo/plan/start/").context["form"].asked == []

    def test_nothing_of_the_laboratory_is_assumed(self, db, as_person):
        cast = make_cast()
        client = as_person(cast.lead)
        form = client.get("/surveys/demo/plan/start/").context["form"]
        method = form.methods[0]
        method.reporting_limit_ug = None
        method.save()
        answer = client.post("/surveys/demo/plan/start/", {f"desorption-{method.pk}": "solvent", "splitter_ports": "2"})
        assert answer.status_code == 422
        assert "Wanted the reporting limit: nothing is assumed." in text_of(answer)
        assert not PlanLaboratory.objects.exists()


PAGES = ("", "windows/", "whom/", "start/", "terms/", "tables/wanted/", "change/", "trains/new/")


@pytest.mark.parametrize("path", PAGES)
def test_every_page_of_the_plan_opens_for_its_lead_and_for_no_stranger(lead, people, survey, as_person, path):
    assert lead.get(PLAN + path).status_code == 200
    assert as_person(people["stranger"]).get(PLAN + path).status_code == 404


def test_a_viewer_reads_the_plan_and_changes_nothing(people, survey, as_person):
    client = as_person(people["viewer"])
    row = survey.planned_trains.first()
    assert [client.get(PLAN + path).status_code for path in ("", "windows/", "whom/")] == [200] * 3
    assert client.get(f"{PLAN}papers/labels.pdf").status_code == 200
    changing = ("search/", "order/", "out/", f"trains/{row.pk}/", f"trains/{row.pk}/out/", "trains/new/", "change/",
                "start/", "terms/", "tables/wanted/")  # fmt: skip
    assert [client.post(PLAN + path, {"sure": "yes"}).status_code for path in changing] == [403] * len(changing)
    assert "Change" not in text_of(client.get(PLAN)).split("By day")[1]


def test_a_plans_page_asks_the_same_number_of_questions_however_large(lead, survey, django_assert_num_queries):
    lead.get(PLAN)
    with CaptureQueriesContext(connection) as small:
        lead.get(PLAN)
    asked = len(small)
    row = survey.planned_trains.first()
    for number in range(12):
        row.pk, row.pump = None, f"X-{number}"
        row.save()
    lead.get(PLAN)
    with django_assert_num_queries(asked):
        lead.get(PLAN)


def test_the_road_shows_where_the_plan_stands(people, as_person, searched):
    client, survey = as_person(people["lead"]), people["survey"]
    assert "Nothing is planned yet for what is asked." in text_of(client.get("/surveys/plan/"))
    put_in_force(survey, kept(hand_trains(searched), groundwork(searched.inputs)), user=None, reason="found")
    page = text_of(client.get("/surveys/plan/"))
    assert "7 questions, 18 trains planned on 2 days" in page
    assert "The samples of the plan are not ordered yet." in page


def test_a_trains_page_says_what_becomes_of_the_others_when_a_port_is_blocked(lead, survey):
    """A controller that droops lets the other port rise a little; the blocked one has nothing."""
    train = next(t for t in plan_now(survey).plan.trains if len(t.ports) == 2)
    row = survey.planned_trains.get(day=train.day, worker__code=train.worker, pump=train.pump)
    page = text_of(lead.get(f"{PLAN}trains/{row.pk}/"))
    assert "B is blocked" in page
    assert "B nothing, −100 %" in page
    assert "The sampler on A resists twice as much" in page
