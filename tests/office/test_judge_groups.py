"""Groups on the pages: the kernel's own verdicts, down to the samples; earlier surveys; as many queries as ever."""

import re
import shutil
import time
from datetime import timedelta
from html import unescape

import pytest
from cast import EXAMPLES
from grown_survey import grow
from read_page import text_of

from lapel.assessment.follow_up import group_outcome
from lapel.assessment.held import held_assessment
from lapel.assessment.judged_groups import group_questions, judged
from lapel.documents import compose_group
from lapel.exchange.record_transfer import import_survey
from lapel.office.judge import views
from lapel.office.judge.asked import questions_of
from lapel.office.judge.held import judged_so_far
from lapel.records.models import Recommendation, ReportTerms

GROUPS = "/surveys/demo/groups/"


@pytest.fixture(autouse=True)
def patient(monkeypatch):
    """Wait for judgements as long as a busy machine takes."""
    monkeypatch.setattr(views, "WAIT_S", 120.0)


def test_every_question_stands_on_the_list_with_the_kernels_outcome_the_gravest_first(hard, as_person):
    answer = as_person(hard.viewer).get(GROUPS)
    body, page = answer.content.decode(), text_of(answer)
    questions = group_questions(held_assessment(hard.survey))
    for question in questions:
        judgement = judged(question)
        assert question.limit_text in page
        if judgement is not None:
            assert compose_group.sentence(judgement) in page
    rows = re.findall(r"<tr>(.*?)</tr>", body.split("<tbody>")[1].split("</tbody>")[0], re.DOTALL)
    assert len(rows) == len(questions)
    order = ["over", "cannot tell", "under", "no verdict"]
    said = [re.search(r'class="chip[^"]*">([^<]+)<', row)[1] for row in rows]
    binding = ["for comparison" not in row for row in rows]
    keys = [(not binds, order.index(word)) for binds, word in zip(binding, said, strict=True)]
    assert keys == sorted(keys)
    expected = sorted(group_outcome(found) if (found := judged(one)) else "no verdict" for one in questions)
    assert sorted(said) == expected


def test_a_group_shows_what_the_kernel_says_and_leads_down_to_every_sample(hard, as_person):
    client = as_person(hard.viewer)
    question = group_questions(held_assessment(hard.survey))[0]
    judgement = judged(question)
    answer = client.get(f"{GROUPS}{question.key}/")
    page, body = text_of(answer), answer.content.decode()
    assert compose_group.belief(judgement) in page
    for name, *cells in compose_group.believed_rows(judgement):
        assert name[1:] in page
        assert all(cell in page for cell in cells)
    for words, chance, _ in compose_group.band_rows(judgement):
        assert words[1:] in page
        assert chance in page
    for test in compose_group.test_rows(judgement):
        assert re.sub(r"\s+", " ", test.words) in page
        assert re.sub(r"\s+", " ", test.source) in page
    mine = {row.shift for row in question.rows}
    results = [
        one
        for one in held_assessment(hard.survey).shifts
        if one.shift.code in mine and one.agent.key == question.agent.key
    ]
    for result in results:
        assert f"#shift-{result.shift.code}" in body
        for sample in result.samples:
            address = f"/surveys/demo/samples/{sample.sampler}/"
            assert f'href="{address}#agent-{question.agent.key}"' in body
            assert client.get(address).status_code == 200


def test_a_proposal_becomes_ones_own_words_and_nothing_is_kept_before(hard, as_person):
    client = as_person(hard.lead)
    question = group_questions(held_assessment(hard.survey))[0]
    body = client.get(f"{GROUPS}{question.key}/").content.decode()
    link = unescape(re.search(r'href="([^"]*to-do/new/[^"]*)"', body)[1])
    form = client.get(link).content.decode()
    action = unescape(re.search(r'<textarea name="action".*?>(.*?)</textarea>', form, re.DOTALL)[1]).strip()
    assert action in text_of(client.get(f"{GROUPS}{question.key}/"))
    assert not Recommendation.objects.exists()
    given = {"rung": "engineer", "action": action + " In March.", "reason": "seen", "owner": "Maintenance", "by": ""}
    assert client.post(link, given).status_code == 302
    row = Recommendation.objects.get()
    assert (row.rung, row.action, row.owner) == ("engineer", action + " In March.", "Maintenance")
    assert row.history.get().history_user == hard.lead


@pytest.mark.parametrize("role", ["technician", "reviewer", "viewer"])
def test_only_a_lead_makes_a_proposal_theirs_or_chooses_what_teaches_the_spread(hard, as_person, role):
    client = as_person(hard.members[role])
    assert "Make it mine" not in text_of(client.get(f"{GROUPS}COAT-toluene-US-OSHA-TWA/"))
    assert client.get("/surveys/demo/report/to-do/new/").status_code == 403
    assert client.post(f"{GROUPS}use-earlier/", {"use": "yes"}).status_code == 403
    assert not ReportTerms.objects.exists()


@pytest.mark.parametrize("path", [GROUPS, f"{GROUPS}COAT-toluene-US-OSHA-TWA/"])
def test_for_an_outsider_there_is_nothing(hard, as_person, path):
    assert as_person(hard.outsider).get(path).status_code == 404


def test_an_address_of_no_question_is_nothing(hard, as_person):
    assert as_person(hard.lead).get(f"{GROUPS}NO-unobtainium-US-OSHA-TWA/").status_code == 404


def another(cast, tmp_path, code, *, site, days):
    """The example as a survey of its own, some days before or after."""
    folder = tmp_path / code
    shutil.copytree(EXAMPLES / "small", folder)
    text = (folder / "survey.toml").read_text("utf-8")
    (folder / "survey.toml").write_text(text.replace('title = "', f'title = "{code}: '), "utf-8")
    found = import_survey(folder, survey_code=code, site_code=site, user=cast.lead).survey
    found.assessed_on = cast.survey.assessed_on + timedelta(days=days)
    found.save()
    return found


def test_earlier_results_of_the_same_group_teach_the_spread_only_where_somebody_chose_it(cast, as_person, tmp_path):
    grow(another(cast, tmp_path, "before", site="works", days=-365), 5)
    client = as_person(cast.lead)
    page = text_of(client.get(GROUPS))
    assert "They are not used now" in page
    assessment = held_assessment(cast.survey)
    plain = questions_of(cast.survey, assessment)
    assert not plain.use_earlier
    assert not any(one.asked.earlier for one in plain.all)
    looked = text_of(client.get(GROUPS + "?earlier=yes"))
    assert "They are used now" in looked
    assert not ReportTerms.objects.exists()
    assert client.post(GROUPS + "use-earlier/", {"use": "yes"}).status_code == 302
    assert ReportTerms.objects.get().use_earlier
    using = questions_of(cast.survey, assessment)
    taught = [one for one in using.all if one.asked.earlier]
    assert taught
    for one in taught:
        (found,) = judged_so_far([one.asked], wait_s=120.0)
        expected = judged(one.of, earlier=one.earlier.rows)
        assert found.judgement.p95 == expected.p95
        assert found.judgement.prior != judged(one.of).prior
        assert "results of the same group" in text_of(client.get(f"{GROUPS}{one.address}/"))


def test_earlier_surveys_of_other_sites_and_later_ones_teach_nothing(cast, tmp_path):
    another(cast, tmp_path, "there", site="yonder", days=-365)
    another(cast, tmp_path, "later", site="works", days=365)
    assert questions_of(cast.survey, held_assessment(cast.survey)).surveys == ()


def test_what_is_not_judged_yet_is_said_and_the_list_fills_itself(hard, as_person, monkeypatch):
    client = as_person(hard.viewer)
    monkeypatch.setattr(views, "WAIT_S", 0.0)
    limit = hard.survey.limits.filter(agent__code="toluene").first()
    limit.value *= 1.2345  # no judgement of another test is held for this limit
    limit.save()
    answer = client.get(GROUPS)
    assert answer.status_code == 200
    assert 'hx-trigger="every 2s"' in answer.content.decode()
    until = time.monotonic() + 120
    while (
        "hx-trigger"
        in (part := client.get(GROUPS, headers={"HX-Request": "true", "HX-Target": "groups"})).content.decode()
    ):
        assert time.monotonic() < until
        time.sleep(0.2)
    assert part.content.decode().lstrip().startswith('<div id="groups"')
