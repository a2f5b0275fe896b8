"""Report, review, signatures, documents, dossier, retention: what is kept, who may, and that nothing disagrees."""

import io
import json
import re
import stat
import zipfile
from datetime import date
from pathlib import Path

import docx
import pytest
from at_once import AtOnce
from cast import NAME_BEHIND_A_CODE, PASSWORD
from django.conf import settings
from read_page import text_of

from lapel.assessment.held import held_assessment
from lapel.documents import compose
from lapel.documents.worker_results import results_by_worker
from lapel.exchange.assessment_json import assessment_as_data
from lapel.exchange.dossier import KEPT_LIST, OFFICE_KEY, verify_dossier
from lapel.exchange.open_data import samples_table, verdicts_table
from lapel.office.judge import views as judge_views
from lapel.office.report import kept_in_dossier, making, signing_key
from lapel.office.report.review_views import place_of
from lapel.records.models import (
    Recommendation,
    ReportTerms,
    ReportText,
    ReviewComment,
    Signature,
    Telling,
    WorkerName,
)
from lapel.reference.retention import retention_for, retention_rules

REPORT = "/surveys/demo/report/"
REVIEW = "/surveys/demo/review/"
PAPERS = REPORT + "papers/"


@pytest.fixture(autouse=True)
def at_once(monkeypatch):
    monkeypatch.setattr(making, "_hands", AtOnce())
    monkeypatch.setattr(judge_views, "WAIT_S", 120.0)
    making._held.clear()


def sign_in_form(client):
    return re.search(r'name="read" value="(\w+)"', client.get(REVIEW + "sign/").content.decode())[1]


def sign_as(client, *, password=PASSWORD, read=""):
    given = {"read": read or sign_in_form(client), "sure": "on", "password": password}
    return client.post(REVIEW + "sign/", given)


def test_texts_terms_and_recommendations_reach_page_and_report_with_who_wrote_them(cast, as_person):
    client = as_person(cast.lead)
    assert "Not written yet." in text_of(client.get(REPORT))
    texts = {"process": "Hulls are laminated by hand.", "controls": "Two fans.", "strategy": "", "weak": "One day."}
    assert client.post(REPORT + "texts/", texts).status_code == 302
    assert ReportText.objects.get(part="process").history.get().history_user == cast.lead
    terms = {
        "contact": "Health and safety, 4411",
        "calendar": "us-wa",
        "completed_on": "2026-11-20",
        "free": "2026-11-27",
    }
    assert client.post(REPORT + "terms/", terms).status_code == 302
    assert ReportTerms.objects.get().calendar == "US-WA"
    assert ReportTerms.objects.get().free_days == ["2026-11-27"]
    given = {"rung": "engineer", "action": "Fit a hood over the gel coat bench.", "owner": "Maintenance"}
    assert client.post(REPORT + "to-do/new/", given).status_code == 302
    page = text_of(client.get(REPORT))
    for words in ("Hulls are laminated by hand.", "Health and safety, 4411", "Fit a hood over the gel coat bench."):
        assert words in page
    made = client.get(PAPERS + "survey-report.docx")
    assert made.status_code == 200
    opened = docx.Document(io.BytesIO(made.content))
    words = " ".join(p.text for p in opened.paragraphs)
    words += " ".join(cell.text for table in opened.tables for row in table.rows for cell in row.cells)
    assert "Hulls are laminated by hand." in words
    assert "Fit a hood over the gel coat bench." in words
    assert "(proposal)" not in words


def test_a_calendar_nobody_knows_and_a_day_that_is_none_are_said_and_nothing_is_kept(cast, as_person):
    client = as_person(cast.lead)
    answer = client.post(REPORT + "terms/", {"contact": "x", "calendar": "ATLANTIS", "free": "soon"})
    assert answer.status_code == 422
    assert "Found the calendar “ATLANTIS”" in text_of(answer)
    assert "Found “soon”. Wanted a day" in text_of(answer)
    assert not ReportTerms.objects.exists()


def test_a_recommendation_is_done_and_struck_and_its_history_stays(cast, as_person):
    client = as_person(cast.lead)
    client.post(REPORT + "to-do/new/", {"rung": "tell", "action": "Tell them."})
    row = Recommendation.objects.get()
    given = {"rung": "tell", "action": "Tell them.", "done_on": "2026-11-24"}
    assert client.post(f"{REPORT}to-do/{row.pk}/", given).status_code == 302
    assert Recommendation.objects.get().done_on == date(2026, 11, 24)
    assert client.post(f"{REPORT}to-do/{row.pk}/strike/", {"reason": "said twice"}).status_code == 302
    assert not Recommendation.objects.exists()
    assert list(Recommendation.history.order_by("history_id").values_list("history_type", flat=True)) == ["+", "~", "-"]


def test_who_is_still_to_be_told_is_counted_against_the_clock(hard, as_person):
    client = as_person(hard.lead)
    everybody = list(results_by_worker(held_assessment(hard.survey)))
    page = text_of(client.get(REPORT))
    assert f"{len(everybody)} of {len(everybody)} workers are still to be told" in page
    tomorrow = {"workers": everybody[:1], "how": "talk", "on": (date(2099, 1, 1)).isoformat()}
    assert client.post(REPORT + "told/", tomorrow).status_code == 422
    assert not Telling.objects.exists()
    given = {"workers": everybody[:2], "how": "talk", "on": "2026-11-20", "proof": "slips in folder 7"}
    assert client.post(REPORT + "told/", given).status_code == 302
    assert f"{len(everybody) - 2} of {len(everybody)} still to be told" in text_of(client.get(REPORT + "told/"))
    limit = hard.survey.limits.all()[0]
    limit.value *= 2
    limit.save()
    assert "Told of figures whose inputs have changed since" in text_of(client.get(REPORT + "told/"))


def test_author_and_reviewer_sign_with_their_password_and_nothing_alters_it(cast, as_person):
    client = as_person(cast.lead)
    wrong = sign_as(client, password="not this one")
    assert wrong.status_code == 422
    assert "This is not your password. Nothing was signed." in text_of(wrong)
    assert not Signature.objects.exists()
    assert sign_as(client).status_code == 302
    signature = Signature.objects.get()
    assert (signature.role, signature.person) == ("author", "lead")
    assert "holds" in text_of(client.get(REVIEW))

    client = as_person(cast.reviewer)
    asked = {"about": "sample S-101", "words": "Why was the post reading not repeated?"}
    assert client.post(REVIEW + "new/", asked).status_code == 302
    refused = sign_as(client)
    assert refused.status_code == 422
    assert "not answered yet" in text_of(refused)
    comment = ReviewComment.objects.get()
    client = as_person(cast.lead)
    assert client.post(f"{REVIEW}{comment.pk}/answer/", {"answer": "It was; see the log."}).status_code == 302
    client = as_person(cast.reviewer)
    assert sign_as(client).status_code == 302
    assert list(Signature.objects.values_list("role", flat=True)) == ["author", "reviewer"]
    assert "Signed as author and as reviewer." in text_of(client.get("/surveys/demo/"))

    kept = Signature.objects.get(pk=signature.pk)
    limit = cast.survey.limits.filter(kind="TWA").first()
    limit.value /= 50.0
    limit.save()
    page = text_of(client.get(REVIEW))
    assert "outdated" in page
    assert "the signature does not speak of what the survey says now" in page
    moved = text_of(client.get(f"{REVIEW}signatures/{signature.pk}/"))
    assert "figures, verdicts or codes" in moved
    again = Signature.objects.get(pk=signature.pk)
    assert (again.sha256, bytes(again.snapshot), again.signed_at) == (kept.sha256, bytes(kept.snapshot), kept.signed_at)
    assert "Something was changed since it was signed" in text_of(client.get("/surveys/demo/"))


@pytest.mark.parametrize(
    ("about", "address"),
    [
        ("sample S-101", "/surveys/demo/samples/S-101/"),
        ("sample A/7 b", "/surveys/demo/samples/A/7%20b/"),
        ("shift S 1", "/surveys/demo/judge/#shift-S%201"),
        ("group LAM-styrene-US-OSHA-TWA", "/surveys/demo/groups/LAM-styrene-US-OSHA-TWA/"),
        ("group a/b", ""),
        ("sample one\nand two", ""),
        ("sample", ""),
        ("the second sentence of the answer", ""),
    ],
)
def test_a_question_leads_to_what_it_is_about_where_its_words_name_a_page(cast, about, address):
    assert place_of(about, cast.survey) == address


def test_what_changed_while_the_form_was_open_is_not_signed(cast, as_person):
    client = as_person(cast.lead)
    read = sign_in_form(client)
    limit = cast.survey.limits.all()[0]
    limit.value *= 2
    limit.save()
    answer = sign_as(client, read=read)
    assert answer.status_code == 422
    assert "Read what it says now; nothing was signed." in text_of(answer)
    assert not Signature.objects.exists()


def test_wrong_passwords_at_signing_close_the_same_door_as_at_signing_in(cast, as_person):
    client = as_person(cast.lead)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        sign_as(client, password="a guess", read=held_assessment(cast.survey).survey.input_sha256)
    right = sign_as(client, read=held_assessment(cast.survey).survey.input_sha256)
    assert right.status_code in (403, 429)
    assert not Signature.objects.exists()


@pytest.mark.parametrize("role", ["technician", "viewer"])
def test_who_may_not_judge_review_sign_or_export_is_told_so(cast, as_person, role):
    client = as_person(cast.members[role])
    for path in ("texts/", "terms/", "to-do/new/", "dossier/", "dossier/whole.zip", "papers/samples.csv"):
        assert client.get(REPORT + path).status_code == 403
    for path in ("new/", "sign/"):
        assert client.get(REVIEW + path).status_code == 403
    assert client.post(REPORT + "told/", {}).status_code == 403
    assert client.get(REPORT).status_code == 200
    assert client.get(REVIEW).status_code == 200


STRANGE = [
    REPORT, REPORT + "texts/", REPORT + "terms/", REPORT + "told/", REPORT + "to-do/new/", REPORT + "to-do/1/",
    PAPERS + "survey-report.pdf", PAPERS + "letter.pdf?worker=W-01", PAPERS + "samples.csv", REPORT + "dossier/",
    REPORT + "dossier/whole.zip", REVIEW, REVIEW + "new/", REVIEW + "1/answer/", REVIEW + "sign/",
    REVIEW + "signatures/1/", "/sites/works/retention/",
]  # fmt: skip


@pytest.mark.parametrize("path", STRANGE)
def test_for_an_outsider_there_is_nothing(cast, as_person, path):
    assert as_person(cast.outsider).get(path).status_code == 404


def test_open_data_is_what_the_kernel_writes_and_agrees_with_the_samples_page(hard, as_person):
    client = as_person(hard.reviewer)
    assessment = held_assessment(hard.survey)
    assert client.get(PAPERS + "samples.csv").content.decode("utf-8-sig") == samples_table(assessment)
    assert client.get(PAPERS + "verdicts.csv").content.decode("utf-8-sig") == verdicts_table(assessment)
    data = json.loads(client.get(PAPERS + "assessment.json").content)
    assert data == json.loads(json.dumps(assessment_as_data(assessment)))
    opened = docx.Document(io.BytesIO(client.get(PAPERS + "survey-report.docx").content))
    cells = {cell.text for table in opened.tables for row in table.rows for cell in row.cells}
    pages = "".join(text_of(client.get("/surveys/demo/samples/", {"page": n})) for n in (1, 2))
    for row in compose.sample_rows(assessment):
        assert row.concentration in cells
        assert row.concentration in pages


def test_letters_hold_names_only_for_those_who_may_know_them(cast, as_person):
    named = WorkerName.objects.select_related("worker").get()
    worker = named.worker.code
    for who, may in ((cast.reviewer, False), (cast.lead, True)):
        client = as_person(who)
        plain = client.get(PAPERS + "letters.zip")
        assert plain.status_code == 200
        with zipfile.ZipFile(io.BytesIO(plain.content)) as packed:
            assert f"letter-{worker}.pdf" in packed.namelist()
            assert NAME_BEHIND_A_CODE not in words_of(packed.read(f"letter-{worker}.docx"))
        asked = client.get(PAPERS + "letter.docx", {"worker": worker, "names": "yes"})
        assert asked.status_code == (200 if may else 403)
        assert not may or NAME_BEHIND_A_CODE in words_of(asked.content)
        held = [one.content for one in making._held.values() if one.content and one.content[:2] == b"PK"]
        assert asked.content not in held


def words_of(content):
    opened = docx.Document(io.BytesIO(content))
    cells = [cell.text for table in opened.tables for row in table.rows for cell in row.cells]
    return " ".join([*(p.text for p in opened.paragraphs), *cells])


def test_documents_come_in_spanish_and_one_of_nobody_is_said(cast, as_person):
    client = as_person(cast.viewer)
    worker = next(iter(results_by_worker(held_assessment(cast.survey))))
    letter = client.get(PAPERS + "letter.docx", {"worker": worker, "language": "es"})
    assert "Tus derechos" in words_of(letter.content) or "derechos" in words_of(letter.content)
    missing = client.get(PAPERS + "letter.pdf", {"worker": "W-99"})
    assert missing.status_code == 500
    assert "Worker W-99 has no result in this survey." in text_of(missing)
    assert client.get(PAPERS + "anything.exe").status_code == 404


def test_the_dossier_of_a_signed_survey_holds_with_everything_people_added(cast, as_person, tmp_path: Path):
    client = as_person(cast.lead)
    client.post(REPORT + "to-do/new/", {"rung": "tell", "action": "Tell them."})
    assert sign_as(client).status_code == 302
    made = client.get(REPORT + "dossier/whole.zip")
    assert made.status_code == 200
    path = tmp_path / "dossier.zip"
    path.write_bytes(made.content)
    _, public = signing_key.key_fingerprint()
    checked = verify_dossier(path, trusted_key=public)
    assert checked.holds, [check.words for check in checked.checks if check.holds is False]
    with zipfile.ZipFile(path) as packed:
        names = set(packed.namelist())
        signed = json.loads(packed.read("records/signatures.json"))
        assert NAME_BEHIND_A_CODE.encode() not in b"".join(packed.read(name) for name in names)
    assert {"documents/survey-report.pdf", "documents/calculation-record.pdf"} <= names
    assert f"records/signed-{signed[0]['number']}.json" in names
    assert signed[0]["person"] == "lead"
    flipped = bytearray(made.content)
    flipped[len(flipped) // 2] ^= 1
    path.write_bytes(flipped)
    assert not verify_dossier(path, recompute=False).holds


def test_the_dossier_for_a_request_keeps_only_the_code_of_whoever_asks(cast, as_person, tmp_path: Path):
    client = as_person(cast.reviewer)
    workers = list(results_by_worker(held_assessment(cast.survey)))
    made = client.get(REPORT + "dossier/for-request.zip", {"worker": workers[0]})
    path = tmp_path / "request.zip"
    path.write_bytes(made.content)
    assert verify_dossier(path).holds
    with zipfile.ZipFile(path) as packed:
        table = packed.read("inputs/workers.csv").decode()
        assert [name for name in packed.namelist() if name.startswith("records/")] == [KEPT_LIST]
        assert json.loads(packed.read(KEPT_LIST)) == []
    assert workers[0] in table
    assert not any(re.search(rf"^{re.escape(code)}\b", table, re.MULTILINE) for code in workers[1:])


def test_the_dossier_holds_what_people_were_given_as_it_was(cast, as_person, tmp_path: Path):
    client = as_person(cast.lead)
    worker = next(iter(results_by_worker(held_assessment(cast.survey))))
    given = {
        f"demo-letter-{worker}-es.pdf": client.get(PAPERS + "letter.pdf", {"worker": worker, "language": "es"}).content,
        "demo-summary.docx": client.get(PAPERS + "summary.docx").content,
    }
    path = tmp_path / "dossier.zip"
    path.write_bytes(client.get(REPORT + "dossier/whole.zip").content)
    assert verify_dossier(path, recompute=False).holds
    with zipfile.ZipFile(path) as packed:
        rows = json.loads(packed.read(KEPT_LIST))
        assert {row["name"]: packed.read(row["file"]) for row in rows} == given
    assert {row["made_by"] for row in rows} == {"lead"}
    assert {row["input_sha256"] for row in rows} == {held_assessment(cast.survey).survey.input_sha256}
    client.get(PAPERS + "posted.pdf", {"group": cast.survey.site.groups.first().code})
    with zipfile.ZipFile(io.BytesIO(client.get(REPORT + "dossier/whole.zip").content)) as packed:
        assert len(json.loads(packed.read(KEPT_LIST))) == 3


@pytest.mark.parametrize("asks", ["", "own"])
def test_a_request_lists_what_people_were_given_and_gives_whoever_asks_their_own_letters(
    cast, as_person, tmp_path: Path, asks: str
):
    client = as_person(cast.lead)
    workers = list(results_by_worker(held_assessment(cast.survey)))
    for worker in workers[:2]:
        client.get(PAPERS + "letter.pdf", {"worker": worker})
    client.get(PAPERS + "letters.zip")
    client.get(PAPERS + "survey-report.docx")
    path = tmp_path / "request.zip"
    path.write_bytes(client.get(REPORT + "dossier/for-request.zip", {"worker": workers[0] if asks else ""}).content)
    checked = verify_dossier(path)
    assert checked.holds, [check.words for check in checked.checks if check.holds is False]
    with zipfile.ZipFile(path) as packed:
        rows = json.loads(packed.read(KEPT_LIST))
        inside = [name for name in packed.namelist() if name.startswith("documents/kept/")]
        text = packed.read(KEPT_LIST).decode()
    own = [f"demo-letter-{workers[0]}.pdf"] if asks else []
    assert [row["name"] for row in rows if row["state"] == "here"] == own
    assert inside == [row["file"] for row in rows if row["file"]]
    assert len(rows) == 4
    assert "demo-survey-report.docx" in text
    assert workers[1] not in text
    assert '"lead"' not in text


def test_a_kept_document_that_was_altered_from_outside_is_named_in_the_dossier_and_fails_it(
    cast, as_person, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    client = as_person(cast.lead)
    client.get(PAPERS + "summary.pdf")
    monkeypatch.setattr(kept_in_dossier, "is_whole", lambda kept: False)
    path = tmp_path / "dossier.zip"
    path.write_bytes(client.get(REPORT + "dossier/whole.zip").content)
    failed = [check for check in verify_dossier(path, recompute=False).checks if check.holds is False]
    assert [check.what for check in failed] == ["Documents people were given"]
    assert "demo-summary.pdf" in failed[0].details[0]


def test_the_key_is_made_once_and_is_the_owners_alone(tmp_path, settings):
    settings.HOME = tmp_path
    first = signing_key.signing_key()
    assert signing_key.signing_key() == first
    assert stat.S_IMODE((tmp_path / OFFICE_KEY).stat().st_mode) == 0o600
    assert [one.name for one in tmp_path.iterdir()] == [OFFICE_KEY]


def test_the_register_counts_from_the_last_day_sampled_and_deletes_nothing(cast, as_person):
    page = text_of(as_person(cast.viewer).get("/sites/works/retention/"))
    last = cast.survey.shifts.order_by("-end").first().end.date()
    for rule in retention_for(cast.survey.rule_book):
        assert rule.kept_until(last).isoformat() in page
    for rule in retention_rules():
        assert rule.source[1:] in page
    assert "Nothing is deleted by this page" in page


def test_the_years_of_the_table_are_those_of_their_sources():
    """29 CFR 1910.1020(d)(1)(ii): 30 years; COSHH regulation 10(5): 40 and 5 years; 2004/37/EC: 40 years, not read."""
    years = {rule.key: rule.years for rule in retention_rules()}
    assert years["us-exposure-records"] == 30
    assert (years["gb-identifiable"], years["gb-other"]) == (40, 5)
    assert years["eu-carcinogens"] == 40
    unread = next(rule for rule in retention_rules() if rule.key == "eu-carcinogens")
    assert unread.certainty == "known"
    assert "not read" in unread.certainty_words
    (longest, *_) = retention_for("a-house-of-its-own")
    assert longest.kept_until(date(2024, 2, 29)) == date(2064, 2, 29)
    rule = next(one for one in retention_rules() if one.key == "gb-other")
    assert rule.kept_until(date(2024, 2, 29)) == date(2029, 3, 1)
