"""The scope: nothing is guessed, limits stand side by side, people are codes."""

import pytest
from cast import make_cast
from django.db import connection
from django.test.utils import CaptureQueriesContext
from read_page import text_of

from lapel.office.scope.row_forms import MethodForm
from lapel.records.models import Agent, LimitChoice, Membership, Method, PlanTerms, Site, Survey, Worker

SCOPE = "/surveys/demo/scope/"
SHEET = """Toluene 108-88-3 EC 203-625-9 30 - 50 %
Methyl ethyl ketone 78-93-3 <20 %
tolulene 5 %
Secret resin, trade secret"""
NEW = {
    "title": "Coating line", "code": "coat-26", "purpose": "A first look", "prepared_by": "H. O.",
    "assessed_on": "2026-12-07", "rule_book": "us-osha", "site": "", "site_name": "Tarn", "site_zone": "America/Denver",
    "area_class": "",
}  # fmt: skip


def look_up(client, text=SHEET, **more):
    return client.post(SCOPE + "look-up/", {"text": text, "law": "", **more})


def test_every_line_of_a_pasted_sheet_is_understood_or_asked_about(cast, as_person):
    page = text_of(look_up(as_person(cast.lead)))
    assert "2 of 4 understood" in page
    assert "Toluene 108-88-3" in page
    assert "no substance “tolulene” is known" in page
    assert "no substance “Secret resin trade secret” is known" in page or "Secret resin" in page


def test_looking_up_takes_nothing(cast, as_person):
    before = Agent.objects.count()
    look_up(as_person(cast.lead))
    assert Agent.objects.count() == before


def test_what_only_comes_near_is_offered_and_taken_only_when_a_person_says_so(cast, as_person):
    client = as_person(cast.lead)
    answer = look_up(client, "tolulene")
    assert 'name="answer" value="0|108-88-3"' in answer.content.decode()
    assert 'name="agent"' not in answer.content.decode()
    answered = look_up(client, "tolulene", answer="0|108-88-3").content.decode()
    assert 'name="agent" value="108-88-3"' in answered


def test_limits_of_all_authorities_stand_side_by_side_with_where_they_are_law(cast, as_person):
    page = text_of(look_up(as_person(cast.lead), "benzene", law="EU"))
    assert "US-OSHA" in page
    assert "US-NIOSH" in page
    assert "European Union: each member state puts it into its own law" in page
    assert "not law there" not in page
    assert "Binding here once your country has made it law, perhaps more strictly: EU" in page


def test_only_what_is_ticked_is_taken_and_reporting_limits_stay_the_laboratorys(cast, as_person):
    LimitChoice.objects.all().delete()
    Agent.objects.filter(survey=cast.survey).exclude(methods__isnull=False).delete()
    client = as_person(cast.lead)
    given = {"agent": ["591-78-6"], "limit": ["US-OSHA/591-78-6/TWA-8h/100ppm"], "method": ["591-78-6|NIOSH 1300"]}
    client.post(SCOPE + "take/", given | {"law": "US"})
    agent = Agent.objects.get(survey=cast.survey, cas="591-78-6")
    limit = agent.limits.get()
    assert (str(limit), limit.binding) == ("US-OSHA TWA 100 ppm", True)
    method = Method.objects.get(agent=agent)
    assert (method.flow_min_lpm, method.flow_max_lpm, method.reporting_limit_ug) == (0.01, 0.2, None)
    assert agent.history.get().history_user == cast.lead


def test_taking_twice_takes_once(cast, as_person):
    client = as_person(cast.lead)
    given = {"agent": ["591-78-6"], "limit": ["US-OSHA/591-78-6/TWA-8h/100ppm"], "method": ["591-78-6|NIOSH 1300"]}
    client.post(SCOPE + "take/", given)
    client.post(SCOPE + "take/", given)
    agent = Agent.objects.get(survey=cast.survey, cas="591-78-6")
    assert (agent.limits.count(), agent.methods.count()) == (1, 1)


def test_an_invented_limit_key_is_not_taken(cast, as_person):
    before = LimitChoice.objects.count()
    as_person(cast.lead).post(SCOPE + "take/", {"agent": ["591-78-6"], "limit": ["US-OSHA/591-78-6/TWA-8h/5ppm"]})
    assert LimitChoice.objects.count() == before


def test_workers_are_entered_as_codes_and_ranges(cast, as_person):
    given = {"group": "NEW", "name": "New group", "workers": "N-08 to N-11, operator\nN-20"}
    as_person(cast.lead).post(SCOPE + "people/", given)
    made = dict(Worker.objects.filter(site=cast.site, group__code="NEW").values_list("code", "job"))
    assert made == {"N-08": "operator", "N-09": "operator", "N-10": "operator", "N-11": "operator", "N-20": ""}


@pytest.mark.parametrize("line", ["Jane Doe", "N-1 to M-4", "N-9 to N-3", "N-1 to N-900"])
def test_names_and_odd_ranges_are_refused_with_their_line(cast, as_person, line):
    before = Worker.objects.count()
    answer = as_person(cast.lead).post(SCOPE + "people/", {"group": "NEW", "workers": f"N-1\n{line}"})
    assert answer.status_code == 422
    assert "Line 2: found" in text_of(answer)
    assert Worker.objects.count() == before


def test_shifts_are_offered_on_working_days_and_past_midnight(cast, as_person):
    given = {"group": "", "begins": "22:00", "ends": "06:00", "first": "2026-12-11", "days": 2}
    as_person(cast.lead).post(SCOPE + "shifts/", given)
    offered = list(cast.survey.offered_shifts.order_by("start"))
    assert [(row.end - row.start).total_seconds() / 3600 for row in offered] == [8.0, 8.0]
    assert [row.start.astimezone(offered[0].start.tzinfo).weekday() in (4, 5, 0, 1) for row in offered] == [True, True]
    assert (offered[1].start - offered[0].start).days == 3


def test_an_effect_needs_somebody_who_says_so(cast, as_person):
    agent = cast.survey.agents.first()
    client = as_person(cast.lead)
    path = f"{SCOPE}agents/{agent.code}/"
    form = {"name": agent.name, "cas": agent.cas, "molar_mass": agent.molar_mass or "", "effects": "irritation; sleep"}
    for prefix in ("limits", "methods"):
        rows = list(getattr(agent, prefix).all())
        form |= {f"{prefix}-TOTAL_FORMS": 0, f"{prefix}-INITIAL_FORMS": 0}
        assert rows is not None
    assert client.post(path, form).status_code == 422
    assert client.post(path, form | {"effects_source": "list of 2026-01-02"}).status_code == 302
    agent.refresh_from_db()
    assert agent.effect_groups == ["irritation", "sleep"]
    terms = PlanTerms.objects.get(survey=cast.survey)
    assert terms.notes[f"effects of {agent.code}"] == "list of 2026-01-02"


def test_a_new_survey_makes_its_site_and_the_person_its_lead(cast, as_person):
    answer = as_person(cast.outsider).post("/surveys/new/", NEW)
    assert (answer.status_code, answer.url) == (302, "/surveys/coat-26/scope/")
    survey = Survey.objects.get(code="coat-26")
    assert Membership.objects.get(site=survey.site).user == cast.outsider
    assert PlanTerms.objects.get(survey=survey).seed.startswith("coat-26 ")


def test_nobody_adds_a_survey_to_a_site_they_do_not_lead(cast, as_person):
    for person in (cast.outsider, cast.technician, cast.viewer):
        answer = as_person(person).post("/surveys/new/", NEW | {"site": cast.site.pk})
        assert answer.status_code == 422
    assert not Survey.objects.filter(code="coat-26").exists()


@pytest.mark.parametrize("code", ["new", "demo", "two words", "ä"])
def test_a_code_that_is_taken_or_no_address_is_refused(cast, as_person, code):
    sites = Site.objects.count()
    assert as_person(cast.lead).post("/surveys/new/", NEW | {"code": code}).status_code == 422
    assert Site.objects.count() == sites


def test_a_stranger_finds_nothing_and_a_viewer_changes_nothing(cast, as_person):
    agent = cast.survey.agents.first()
    posts = ("look-up/", "take/", "people/", "shifts/", f"agents/{agent.code}/", f"agents/{agent.code}/out/")
    for person, status in ((cast.outsider, 404), (cast.viewer, 403), (cast.technician, 403)):
        client = as_person(person)
        assert client.get(SCOPE).status_code == (404 if status == 404 else 200)
        assert [client.post(SCOPE + path, {}).status_code for path in posts] == [status] * len(posts)


def test_the_page_asks_the_same_number_of_questions_of_a_large_scope(as_person, django_assert_num_queries, db):
    cast = make_cast("hard")
    client = as_person(cast.lead)
    client.get(SCOPE)
    with CaptureQueriesContext(connection) as small:
        client.get(SCOPE)
    Agent.objects.bulk_create(Agent(survey=cast.survey, code=f"a{n}", name=f"Agent {n}") for n in range(30))
    with django_assert_num_queries(len(small)):
        client.get(SCOPE)


def test_a_method_takes_its_rule_for_duplicates_as_percent(cast):
    agent = cast.survey.agents.first()
    cells = {
        "code": "m-9",
        "medium": "charcoal",
        "duplicates_min": "2",
        "duplicates_share": "12.5",
        "two_sections": "on",
    }
    form = MethodForm(cells, survey=cast.survey)
    assert form.is_valid(), form.errors
    form.instance.agent = agent
    row = form.save()
    row.refresh_from_db()
    assert (row.duplicates_min, row.duplicates_share) == (2, 0.125)
    empty = MethodForm(cells | {"duplicates_min": "", "duplicates_share": ""}, instance=row, survey=cast.survey)
    assert empty.is_valid(), empty.errors
    assert (empty.save().duplicates_min, row.duplicates_share) == (None, None)


def test_all_agents_of_an_effect_stand_beside_it(cast, as_person):
    agents = list(cast.survey.agents.all())
    Agent.objects.filter(survey=cast.survey).update(effect_groups=["irritation"])
    Agent.objects.create(survey=cast.survey, code="x-agent", name="Another", effect_groups=["sleep", "irritation"])
    page = text_of(as_person(cast.lead).get(SCOPE))
    irritating = page.split("irritation (", 1)[1].split(")", 1)[0]
    assert sorted(irritating.split(", ")) == sorted(["Another", *(agent.name for agent in agents)])
    assert "sleep (Another)" in page
