"""Dispatch and Results: sealing, handing on, issuing; a file brought in, questioned, taken over, amended."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import replace
from datetime import timedelta
from html import unescape
from pathlib import Path

import pytest
from cast import EXAMPLES, PASSWORD
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from odd_reports import EXCHANGED, with_masses_exchanged
from read_page import text_of

from lapel.assessment.held import held_assessment, held_survey
from lapel.exchange.problems import InputProblems
from lapel.exchange.record_export import export_survey
from lapel.exchange.record_transfer import import_survey
from lapel.exchange.survey_folder import read_survey
from lapel.fieldlog import Entry, chained
from lapel.records.append import EntryRefused, append_act, append_correction
from lapel.records.entry_frame import frame_problems, new_entry_id
from lapel.records.models import CustodyForm, DeliveredFile, LaboratoryReport, LaboratoryResult, LogEntry

DISPATCH = "/surveys/demo/dispatch/"
RESULTS = "/surveys/demo/results/"


def test_every_parcel_stands_with_its_counts_and_who_holds_it(hard, as_person):
    page = text_of(as_person(hard.viewer).get(DISPATCH))
    for parcel in ("Parcel K-1", "Parcel K-2", "Parcel K-3"):
        assert parcel in page
    assert "10 air samples and 6 blanks, 16 in all" in page
    assert "Held by Reception, Greyfell Analytical." in page


def test_a_parcel_shows_its_hands_and_no_worker(hard, as_person):
    body = as_person(hard.viewer).get(f"{DISPATCH}K-1/").content.decode()
    assert "Courier 12" in body
    assert not [worker for worker in hard.site.workers.values_list("code", flat=True) if f">{worker}<" in body]


TOLD = {
    "giver-name": "Reception",
    "receiver-name": "Bench 4",
    "seal_intact": "no",
    "temperature": "6.5",
    "temperature_unit": "°C",
}
DRAWN = "drawn 40,120 90,60 140,130;150,70 260,75"
BY_ACCOUNT = {"how": "account", "account": "technician", "password": PASSWORD, "name": "technician"}
COURIER = {"name": "Courier 12", "firm": "Swift & Sons (invented)", "how": "drawn", "lines": DRAWN}


def told_by(giver, receiver):
    both = (("giver", giver), ("receiver", receiver))
    return TOLD | {f"{who}-{name}": text for who, party in both for name, text in party.items()}


def test_an_account_signs_with_its_password_and_a_courier_with_a_drawing(hard, as_person, tmp_path):
    client = as_person(hard.technician)
    answer = client.post(f"{DISPATCH}K-1/hand-over/", told_by(BY_ACCOUNT, COURIER))
    assert answer.status_code == 302, text_of(answer)
    assert {"giver-password", "receiver-password"} <= set(answer.wsgi_request.sensitive_post_parameters)
    entry = LogEntry.objects.filter(kind="custody_handed").last()
    assert entry.fields["from_signature"] == "account technician"
    assert (entry.fields["to_firm"], entry.fields["to_signature"]) == ("Swift & Sons (invented)", DRAWN)
    assert PASSWORD not in str(entry.fields)
    page = client.get(f"{DISPATCH}K-1/").content.decode()
    assert "account technician" in page
    assert 'aria-label="Signature drawn by Courier 12"' in page
    assert '<polyline points="40,120 90,60 140,130"/><polyline points="150,70 260,75"/>' in page

    issued = {"laboratory": "Greyfell Analytical (invented)"}
    assert client.post(f"{DISPATCH}K-1/issue/", issued).status_code == 302
    hop = json.loads(CustodyForm.objects.get().data)["custody"][-1]
    assert hop["given_signature"] == {"how": "account", "account": "technician", "lines": []}
    assert (hop["taken_by"], hop["taken_firm"]) == ("Courier 12", "Swift & Sons (invented)")
    drawn = [[[40, 120], [90, 60], [140, 130]], [[150, 70], [260, 75]]]
    assert hop["taken_signature"] == {"how": "drawn", "account": "", "lines": drawn}

    written = export_survey(hard.survey, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    assert DRAWN in "".join(file.read_text("utf-8") for file in (tmp_path / "out/log").iterdir())


@pytest.mark.parametrize(
    ("giver", "receiver", "said"),
    [
        (BY_ACCOUNT | {"password": "guessed"}, COURIER, "not the password of an account"),
        (BY_ACCOUNT | {"account": ""}, COURIER, "not the password of an account"),
        (BY_ACCOUNT | {"name": "Somebody Else"}, COURIER, "Wanted the name of the account, technician"),
        (BY_ACCOUNT, COURIER | {"lines": ""}, "Found no drawing"),
        (BY_ACCOUNT, COURIER | {"lines": "drawn 1,1"}, "a line long enough"),
        (BY_ACCOUNT, COURIER | {"lines": "account lead"}, "Found a drawing that is none"),
        (BY_ACCOUNT, BY_ACCOUNT, "Wanted the taker&#x27;s own"),
        (BY_ACCOUNT, COURIER | {"lines": "drawn " + "0,0 99,0 " * 500}, "at most 4000"),
    ],
)
def test_a_signature_that_is_none_keeps_nothing(hard, as_person, giver, receiver, said):
    before = LogEntry.objects.count()
    answer = as_person(hard.technician).post(f"{DISPATCH}K-1/hand-over/", told_by(giver, receiver))
    assert answer.status_code == 422
    body = answer.content.decode()
    assert said in body
    assert PASSWORD not in body
    assert LogEntry.objects.count() == before


def test_what_is_corrected_after_it_was_signed_shows_and_the_signature_itself_cannot_be(hard, as_person):
    client = as_person(hard.technician)
    client.post(f"{DISPATCH}K-1/hand-over/", told_by(BY_ACCOUNT, COURIER))
    assert "corrected after it was signed" not in text_of(client.get(f"{DISPATCH}K-1/"))
    entry = LogEntry.objects.filter(kind="custody_handed").last()
    with pytest.raises(EntryRefused, match="sign a new one"):
        append_correction(entry, author=hard.lead, reason="it was me", field="from_signature", value="account lead")
    append_correction(entry, author=hard.lead, reason="misread", field="temperature", value="4.5")
    page = text_of(client.get(f"{DISPATCH}K-1/"))
    assert "corrected after it was signed" in page
    assert "account technician" in page


def test_a_device_cannot_say_that_an_account_signed(hard):
    fields = {"parcel": "K-1", "from": "lead", "to": "Bench 4"}
    entry = Entry(new_entry_id(), "custody_handed", timezone.now(), "phone", 1, "RK", fields)
    for text, refused in ((DRAWN, False), ("paper", False), ("account lead", True)):
        (signed,) = chained([replace(entry, fields=fields | {"from_signature": text})])
        assert bool([*frame_problems(signed, from_device="phone")]) is refused, text


def test_a_hand_over_is_an_entry_of_the_log(hard, as_person):
    client = as_person(hard.technician)
    assert client.post(f"{DISPATCH}K-1/hand-over/", TOLD).status_code == 302
    _, day = held_survey(hard.survey)
    hop = day.parcels["K-1"].hops[-1]
    assert (hop.giver, hop.receiver, hop.seal_intact, hop.temperature) == ("Reception", "Bench 4", False, "6.5")
    assert day.parcels["K-1"].seal_broken is True
    assert "The seal was found broken." in text_of(client.get(f"{DISPATCH}K-1/"))


def test_a_new_issue_replaces_one_with_a_reason_and_both_stay(hard, as_person):
    client = as_person(hard.technician)
    asked = {"laboratory": "Greyfell Analytical (invented)", "report_to": "lead"}
    assert client.post(f"{DISPATCH}K-1/issue/", asked).status_code == 302
    assert client.post(f"{DISPATCH}K-1/issue/", asked).status_code == 422
    assert client.post(f"{DISPATCH}K-1/issue/", {**asked, "reason": "wrong laboratory"}).status_code == 302
    first, second = CustodyForm.objects.order_by("issue")
    assert (first.issue, second.issue, second.reason) == (1, 2, "wrong laboratory")
    for made in (first, second):
        pdf = client.get(f"{DISPATCH}forms/{made.pk}.pdf")
        assert hashlib.sha256(pdf.content).hexdigest() == made.sha256
        assert json.loads(client.get(f"{DISPATCH}forms/{made.pk}.json").content)["issue"] == made.issue
    assert "replaced" in text_of(client.get(f"{DISPATCH}K-1/"))


def test_what_was_drawn_and_lies_in_no_parcel_can_be_sealed_and_stops_the_others_until_then(hard, as_person):
    append_act("blank_opened", {"blank": "G-199", "lot": "CH-8120"}, survey=hard.survey, author=hard.technician)
    client = as_person(hard.technician)
    assert "In no parcel: G-199" in text_of(client.get(DISPATCH))
    assert client.post(DISPATCH, {"parcel": "K-1", "samplers": ["G-199"]}).status_code == 422
    assert client.post(DISPATCH, {"parcel": "K-4", "samplers": []}).status_code == 422
    assert client.post(DISPATCH, {"parcel": "K-4", "seal": "77", "samplers": ["G-199"]}).status_code == 302
    assert "In no parcel" not in text_of(client.get(DISPATCH))


@pytest.mark.parametrize("role", ["reviewer", "viewer"])
def test_who_may_not_record_seals_hands_over_and_issues_nothing(hard, as_person, role):
    client = as_person(getattr(hard, role))
    for address in (DISPATCH, f"{DISPATCH}K-1/hand-over/", f"{DISPATCH}K-1/issue/"):
        assert client.post(address, {}).status_code == 403
    assert client.post(RESULTS, {}).status_code == 403


def test_the_countdown_runs_until_results_are_there(hard, as_person):
    client = as_person(hard.viewer)
    assert client.get(f"{DISPATCH}K-1/").context["left"] == "", "its results are there"
    LaboratoryReport.objects.all().delete()
    page = client.get(f"{DISPATCH}K-1/")
    until = page.context["shipment"].latest_arrival
    over = timezone.now() > until
    assert page.context["over"] is over
    hours = abs(until - timezone.now()) / timedelta(hours=1)
    wanted = f"{hours / 24:.0f} days" if hours >= 72 else f"{hours:.0f} hours"
    assert (f"over for {wanted}" if over else f"{wanted} left") in text_of(page)


def test_label_and_seals_are_handed_out_to_who_may_look(hard, as_person):
    answer = as_person(hard.viewer).get(f"{DISPATCH}K-1/labels.pdf")
    assert answer.content.startswith(b"%PDF")
    assert "parcel-K-1-label-and-seals.pdf" in answer["Content-Disposition"]
    assert as_person(hard.viewer).get(f"{DISPATCH}K-99/labels.pdf").status_code == 404
    assert as_person(hard.outsider).get(f"{DISPATCH}K-1/labels.pdf").status_code == 404


def test_a_stranger_finds_nothing(hard, as_person):
    client = as_person(hard.outsider)
    for address in (DISPATCH, f"{DISPATCH}K-1/", RESULTS, f"{RESULTS}files/1/"):
        assert client.get(address).status_code == 404


def test_the_same_number_of_queries_however_much_is_in_a_parcel(hard, as_person):
    client = as_person(hard.viewer)
    client.get(f"{DISPATCH}K-1/")
    counts = []
    for parcel in ("K-1", "K-3"):
        with CaptureQueriesContext(connection) as seen:
            client.get(f"{DISPATCH}{parcel}/")
        counts.append(len(seen))
    assert counts[0] == counts[1] <= 13


@pytest.fixture
def without_results(hard):
    """The hard survey before its first report came, and that report's file."""
    report = LaboratoryReport.objects.get(code="GA-4822")
    content, name = bytes(report.original), Path(report.file).name
    report.results.all().delete()
    report.delete()
    return hard, name, content


def brought_in(client, name, content):
    answer = client.post(RESULTS, {"file": SimpleUploadedFile(name, content)})
    assert answer.status_code == 302, text_of(answer)
    return answer["Location"]


def settled(client, address):
    """Answer every question as the survey folder does: nobody corrected anything; else the first choice."""
    for _ in range(40):
        body = client.get(address).content.decode()
        found = re.search(r'name="key" value="([^"]*)">(.*?)</form>', body, re.DOTALL)
        asked = re.search(r'action="[^"]*answer/"', body)
        if not asked or not found:
            return
        key = unescape(found[1])
        choices = [unescape(text) for text in re.findall(r'type="radio" name="answer" value="([^"]*)"', found[2])]
        plain = "2026-11-16" if "received" in key else "GA-4822"
        text = "nobody" if "nobody" in choices else choices[0] if choices else plain
        answer = client.post(f"{address}answer/", {"key": key, "answer": text})
        assert answer.status_code == 302, (key, text_of(answer)[:2000])


def test_a_file_is_kept_as_it_came_questioned_and_taken_over_with_the_same_figures(hard, as_person):
    before = {
        (s.sampler, s.agent.key): s.concentration.value for s in held_assessment(hard.survey).samples if s.concentration
    }
    report = LaboratoryReport.objects.get(code="GA-4822")
    content, name = bytes(report.original), Path(report.file).name
    theirs = set(report.results.values_list("sampler", flat=True))
    report.results.all().delete()
    report.delete()
    client = as_person(hard.technician)
    address = brought_in(client, name, content)
    file = DeliveredFile.objects.get()
    assert client.get(f"{address}original/").content == content
    assert "Only you can answer" in text_of(client.get(address)) or "Take it over" in text_of(client.get(address))
    settled(client, address)
    assert client.post(f"{address}accept/").status_code == 302
    file.refresh_from_db()
    assert file.report is not None, text_of(client.get(address))[:3000]
    assert set(file.report.results.values_list("sampler", flat=True)) == theirs
    after = {
        (s.sampler, s.agent.key): s.concentration.value for s in held_assessment(hard.survey).samples if s.concentration
    }
    shared = {key for key in before if key[0] in theirs} & after.keys()
    assert shared
    for key in shared:
        assert after[key] == pytest.approx(before[key], rel=1e-9), key
    assert client.post(f"{address}accept/").status_code == 404, "taken over once"


def test_an_amended_report_is_a_new_version_with_what_differs(hard, as_person):
    client = as_person(hard.technician)
    report = LaboratoryReport.objects.get(code="GA-4822")
    content, name = bytes(report.original), Path(report.file).name
    report.results.all().delete()
    report.delete()
    first = brought_in(client, name, content)
    settled(client, first)
    client.post(f"{first}accept/")
    result = LaboratoryResult.objects.filter(
        report__code=DeliveredFile.objects.get().report.code, front_below=False
    ).first()
    rows = content.decode("utf-8-sig", "replace").splitlines(keepends=True)
    at = next(n for n, row in enumerate(rows) if result.sampler in row)
    printed = f"{result.front_ug / 1000:g}".replace(".", ",")  # the file says mg, with a decimal comma
    assert printed in rows[at]
    rows[at] = rows[at].replace(printed, f"{result.front_ug * 1.5 / 1000:g}".replace(".", ","), 1)
    second = brought_in(client, name, "".join(rows).encode())
    settled(client, second)
    client.post(f"{second}accept/")
    file = DeliveredFile.objects.order_by("pk").last()
    assert file.version == 2, text_of(client.get(second))[:3000]
    assert any(result.sampler in words for words in file.changes)
    listed, code = text_of(client.get(RESULTS)), file.report.code
    assert f"replaced by version 2; it was {code} , version 1" in listed
    assert f"taken over {code} , version 2" in listed
    assert f"taken over {code} , version 1" not in listed
    assert "version 1; replaced by version 2." in text_of(client.get(first))
    assert "replaced by" not in text_of(client.get(second))
    assert LaboratoryResult.history.filter(history_type="-").exists(), "the version before stays in the history"


def test_a_report_taken_over_leaves_with_the_folder_as_it_came_and_comes_back_so(without_results, as_person, tmp_path):
    hard, name, content = without_results
    client = as_person(hard.technician)
    address = brought_in(client, name, content)
    settled(client, address)
    client.post(f"{address}accept/")
    report = DeliveredFile.objects.get().report
    out = tmp_path / "out"
    written = export_survey(hard.survey, out)
    assert written.is_whole, (written.problems, written.differences)
    beside = list((out / "laboratory/as-delivered").iterdir())
    assert len(beside) == 1
    assert (beside[0] / name).read_bytes() == content
    assert json.loads((beside[0] / "map.json").read_text())["recovery_corrected_by"] == "nobody"
    assert hashlib.sha256(content).hexdigest() in (out / f"laboratory/{beside[0].name}.toml").read_text()

    again = import_survey(changed_title(out), survey_code="again", site_code="again").survey
    back = again.laboratoryreports.get(code=report.code)
    assert bytes(back.original) == content
    assert export_survey(again, tmp_path / "once-more").is_whole
    assert (tmp_path / "once-more/laboratory/as-delivered" / beside[0].name / name).read_bytes() == content


def test_every_version_leaves_with_its_original_and_its_hash_and_comes_back(without_results, as_person, tmp_path):
    hard, name, content = without_results
    client = as_person(hard.technician)
    versions = [content, content.replace(b"Back (mg)", b"Back (mg) "), content + b"\n"]
    for number, version in enumerate(versions, start=1):
        address = brought_in(client, name, version)
        settled(client, address)
        client.post(f"{address}accept/")
        assert DeliveredFile.objects.order_by("pk").last().version == number, text_of(client.get(address))[:2000]
    out = tmp_path / "out"
    written = export_survey(hard.survey, out)
    assert written.is_whole, (written.problems, written.differences)
    (beside,) = (out / "laboratory/as-delivered").iterdir()
    assert (beside / name).read_bytes() == versions[2]
    for number, version in enumerate(versions[:2], start=1):
        assert (beside / f"version-{number}" / name).read_bytes() == version
        note = json.loads((beside / f"version-{number}/earlier.json").read_text())
        assert (note["version"], note["file"]) == (number, name)
        assert note["sha256"] == hashlib.sha256(version).hexdigest()
        assert note["taken_over_by"] == "technician"

    again = import_survey(changed_title(out), survey_code="again", site_code="again").survey
    export_survey(again, tmp_path / "again")
    kept = tmp_path / "again/laboratory/as-delivered" / beside.name
    assert {p.relative_to(kept): p.read_bytes() for p in kept.rglob("*") if p.is_file()} == {
        p.relative_to(beside): p.read_bytes() for p in beside.rglob("*") if p.is_file()
    }
    (kept / "version-1" / name).write_bytes(b"something else")
    with pytest.raises(InputProblems, match="no longer the one that was taken over"):
        read_survey(tmp_path / "again")


def test_what_was_not_analysed_is_kept_with_the_reason_until_a_result_comes(hard, as_person, tmp_path):
    report = LaboratoryReport.objects.get(code="GA-4822")
    content, name = bytes(report.original), Path(report.file).name
    lost, rest = (
        report.results.filter(front_below=False).values_list("sampler", "agent").first(),
        report.results.count(),
    )
    report.results.all().delete()
    report.delete()
    client = as_person(hard.technician)
    broken = with_words(content, lost[0], "sample broken")
    address = brought_in(client, name, broken)
    settled(client, address)
    page = text_of(client.get(address))
    assert "No result, and the laboratory’s reason" in page
    client.post(f"{address}accept/")
    assert DeliveredFile.objects.get().report is not None, text_of(client.get(address))[:2000]
    assert 0 < LaboratoryResult.objects.filter(report__code="GA-4822").count() < rest
    listed = text_of(client.get(RESULTS))
    assert "sample broken" in listed
    assert f"{lost[0]} , {hard.survey.agents.get(code=lost[1]).name}: sample broken" in listed
    found = findings_of(hard.survey, *lost)
    assert "sample broken" in found["result-missing"]
    assert "missing-at-laboratory" not in found, "the laboratory had it in its hands"

    hard.survey.refresh_from_db()
    written = export_survey(hard.survey, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    again = import_survey(changed_title(tmp_path / "out"), survey_code="again", site_code="again").survey
    assert "sample broken" in findings_of(again, *lost)["result-missing"]

    second = brought_in(client, name, content)
    settled(client, second)
    client.post(f"{second}accept/")
    assert "result-missing" not in findings_of(hard.survey, *lost)
    assert "sample broken" not in text_of(client.get(RESULTS)).split("Files as they came")[0]


def with_words(content: bytes, sampler: str, words: str) -> bytes:
    """The file with words in place of the masses of one sampler, front and back."""
    rows = content.decode("utf-8-sig").splitlines(keepends=True)
    cells = [row.split(";") for row in rows]
    return "".join(
        ";".join([*row[:2], words, words, *row[4:]]) if row[0] == sampler else ";".join(row) for row in cells
    ).encode()


def findings_of(survey, sampler, agent) -> dict[str, str]:
    (sample,) = (s for s in held_assessment(survey).samples if (s.sampler, s.agent.key) == (sampler, agent))
    return {finding.rule: finding.found for finding in sample.standing.findings}


def changed_title(folder):
    """The folder under another title: one that is on record already is not brought in twice."""
    document = folder / "survey.toml"
    document.write_text(re.sub(r'^title = "', 'title = "Once more: ', document.read_text("utf-8"), flags=re.M), "utf-8")
    return folder


def test_exchanged_samples_are_a_question_on_the_page(hard, as_person):
    client = as_person(hard.technician)
    report = LaboratoryReport.objects.get(code="GA-4821")
    address = brought_in(client, Path(report.file).name, with_masses_exchanged(bytes(report.original)))
    settled(client, address)
    body = text_of(client.get(address))
    assert "Were two samples exchanged?" in body
    assert f"{EXCHANGED[0]} and {EXCHANGED[1]}" in body


def test_every_answer_can_be_taken_back_and_a_column_be_read_otherwise(without_results, as_person):
    hard, name, content = without_results
    client = as_person(hard.technician)
    address = brought_in(client, name, content)
    settled(client, address)
    assert "Take it over" in text_of(client.get(address))
    assert client.post(f"{address}column/", {"heading": "Back (mg)", "role": "no such"}).status_code == 422
    assert client.post(f"{address}column/", {"heading": "Back (mg)", "role": "other"}).status_code == 302
    assert not any(row["back"] != "–" for row in client.get(address).context["rows"])
    assert client.post(f"{address}ask-again/").status_code == 302
    assert "Only you can answer" in text_of(client.get(address))


def test_none_of_them_is_an_answer_that_counts(without_results, as_person):
    hard, name, content = without_results
    client = as_person(hard.technician)
    address = brought_in(client, name, content)
    assert "checked" not in client.get(address).content.decode(), "no answer is chosen beforehand"
    key = next(q["of"].key for q in client.get(address).context["questions"] if q["of"].key.startswith("agents."))
    assert client.post(f"{address}answer/", {"key": key, "answer": "-"}).status_code == 302
    assert json.loads(DeliveredFile.objects.get().answers)["agents"] == {"Butanone": ""}


def test_a_hand_over_of_a_parcel_that_is_none_is_not_recorded(hard, as_person):
    told = {"giver": "A", "receiver": "B"}
    assert as_person(hard.technician).post(f"{DISPATCH}K-99/hand-over/", told).status_code == 404
    assert "K-99" not in held_survey(hard.survey)[1].parcels


def test_all_that_lies_loose_goes_in_with_one_mark(hard, as_person):
    for blank in ("G-198", "G-199"):
        append_act("blank_opened", {"blank": blank, "lot": "CH-8120"}, survey=hard.survey, author=hard.technician)
    client = as_person(hard.technician)
    assert client.post(DISPATCH, {"parcel": "K-4", "everything": "on"}).status_code == 302
    assert held_survey(hard.survey)[1].parcels["K-4"].samplers == ("G-198", "G-199")


@pytest.mark.parametrize(
    ("name", "content"),
    [("r.exe", b"MZ" * 50), ("r.xlsx", b"no zip at all"), ("r.csv", b""), ("r.pdf", b"%PDF-broken")],
)
def test_what_cannot_be_a_report_is_refused_in_words_and_not_kept(hard, as_person, name, content):
    answer = as_person(hard.technician).post(RESULTS, {"file": SimpleUploadedFile(name, content)})
    assert answer.status_code == 422
    assert "Wanted" in text_of(answer)
    assert not DeliveredFile.objects.exists()


def test_a_file_set_aside_stays_as_it_came(without_results, as_person):
    hard, name, content = without_results
    client = as_person(hard.technician)
    address = brought_in(client, name, content)
    assert client.post(f"{address}aside/", {"reason": ""}).status_code == 422
    assert client.post(f"{address}aside/", {"reason": "the wrong survey"}).status_code == 302
    assert "the wrong survey" in text_of(client.get(RESULTS))
    assert client.get(f"{address}original/").content == content
    assert client.post(f"{address}accept/").status_code == 404
    assert "To use it after all, bring it in again" in text_of(client.get(address))
    again = brought_in(client, name, content)
    assert again != address
    assert "Nothing of it counts until somebody takes it over" in text_of(client.get(again))


def test_the_examples_are_where_the_tests_look():
    assert (EXAMPLES / "hard" / "laboratory").is_dir()
