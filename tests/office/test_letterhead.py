"""A site's letterhead reaches its documents; documents that were made stay as they were, and never hold a name."""

import hashlib
import io
import struct
import zipfile
import zlib

import docx
import pytest
from at_once import AtOnce
from cast import NAME_BEHIND_A_CODE, PASSWORD
from django.db import DatabaseError, transaction
from read_page import text_of

from lapel.documents.logo import LARGEST_BYTES
from lapel.documents.wording import wording
from lapel.office.judge import views as judge_views
from lapel.office.report import making, paper_views
from lapel.office.report.keeping import keep
from lapel.office.report.letterhead import words_of_site
from lapel.records.models import KeptDocument, Letterhead, WorkerName

PAPERS = "/surveys/demo/report/papers/"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 10"><rect width="40" height="10" fill="#147"/></svg>'


@pytest.fixture(autouse=True)
def at_once(monkeypatch):
    monkeypatch.setattr(making, "_hands", AtOnce())
    monkeypatch.setattr(judge_views, "WAIT_S", 120.0)
    making._held.clear()


@pytest.fixture
def head(cast):
    return f"/sites/{cast.survey.site.code}/letterhead/"


def png(packed):
    """A picture of 4 by 4 grey dots around any packed dots."""
    parts = ((b"IHDR", struct.pack(">IIBBBBB", 4, 4, 8, 0, 0, 0, 0)), (b"IDAT", packed), (b"IEND", b""))
    chunks = (
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)) for kind, data in parts
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


DOTS = b"\0\x30\x60\x90\xc0" * 4


def file(content, name="logo.svg"):
    given = io.BytesIO(content)
    given.name = name
    return given


def test_a_logo_and_own_words_reach_every_document_made_on_the_pages(cast, as_person, head):
    client = as_person(cast.lead)
    assert "Documents bear no logo." in text_of(client.get(head))
    assert client.post(head, {"firm": "Fernbrook", "logo": file(SVG)}).status_code == 302
    own = {"title": "What you breathed", "contact": "Ask {contact}, or the works council."}
    assert client.post(f"{head}en/letter/", own).status_code == 302
    assert client.post(f"{head}es/letter/", {"title": "Lo que usted respiró"}).status_code == 302
    for name in ("survey-report.docx", "summary.docx", "letter.docx?worker=W-1", "posted.docx?group=LAM"):
        opened = docx.Document(io.BytesIO(client.get(PAPERS + name).content))
        drawn = [shape._inline.docPr.get("descr") for shape in opened.inline_shapes]
        assert "Logo of Fernbrook" in drawn, name
    said = [p.text for p in docx.Document(io.BytesIO(client.get(PAPERS + "letter.docx?worker=W-1").content)).paragraphs]
    assert "What you breathed" in said
    assert any(text.startswith("Ask ") and text.endswith(", or the works council.") for text in said)
    spanish = client.get(PAPERS + "letter.docx?worker=W-1&language=es").content
    assert "Lo que usted respiró" in [p.text for p in docx.Document(io.BytesIO(spanish)).paragraphs]
    page = text_of(client.get(head))
    assert "2 of your own" in page
    assert "1 of your own" in page
    shown = client.get(f"{head}logo")
    assert shown.content == SVG
    assert shown["Content-Security-Policy"].startswith("default-src 'none'")
    kept = Letterhead.objects.get()
    assert kept.history.count() == 3
    assert {row.history_user for row in kept.history.all()} == {cast.lead}
    assert client.post(head, {"firm": "", "without": "on"}).status_code == 302
    assert Letterhead.objects.get().logo is None
    assert client.get(f"{head}logo").status_code == 404


def test_a_text_left_empty_is_the_packaged_one_again(cast, as_person, head):
    client = as_person(cast.lead)
    client.post(f"{head}en/letter/", {"title": "What you breathed"})
    assert words_of_site(cast.survey.site, "en").say("letter.title") == "What you breathed"
    client.post(f"{head}en/letter/", {"title": ""})
    assert words_of_site(cast.survey.site, "en").texts == wording("en").texts
    assert Letterhead.objects.get().words == {}


def test_words_of_an_earlier_version_that_no_place_reads_any_more_are_left_aside(cast):
    words = {"en": {"letter": {"title": "Mine", "gone": "x", "contact": "{nobody}"}}}
    Letterhead.objects.create(site=cast.survey.site, words=words)
    found = words_of_site(cast.survey.site, "en")
    assert found.say("letter.title") == "Mine"
    assert found.texts["letter"]["contact"] == wording("en").texts["letter"]["contact"]
    assert "gone" not in found.texts["letter"]


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"GIF89a", "neither an SVG nor a PNG"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>', "reaches out"),
        (b'<svg xmlns="http://www.w3.org/2000/svg" onload="x()"/>', "reaches out"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><image href="https://x.example/a.png"/></svg>', "reaches out"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><rect style="fill:url(http://x.example/a)"/></svg>', "reaches out"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><style>@import "a.css";</style></svg>', "reaches out"),
        (b'<svg xmlns="http://www.w3.org/2000/svg"><rect', "cannot be drawn"),
        (b"\x89PNG\r\n\x1a\n" + bytes(8) + b"\x00\x00\x00\x10\x00\x00\x00\x10" + b"no dots", "cannot be drawn"),
        (b"\x89PNG\r\n\x1a\n" + bytes(8) + b"\x00\x01\x00\x00\x00\x01\x00\x00" + b"no dots", "wanted at most 20000000"),
        (png(zlib.compress(DOTS)[:-6]), "cannot be drawn"),
        (png(zlib.compress(bytes(50_000_000))), "cannot be drawn"),
        (b"<svg>" + b" " * LARGEST_BYTES, "Wanted at most 500 kB"),
        (b"", "nothing in it"),
    ],
)
def test_a_file_that_cannot_be_a_logo_is_refused_and_nothing_is_kept(cast, as_person, head, content, why):
    answer = as_person(cast.lead).post(head, {"logo": file(content)})
    assert answer.status_code == 422
    assert why in text_of(answer)
    assert "Nothing was kept." in text_of(answer)
    assert not Letterhead.objects.exists()


def test_a_png_whose_dots_fill_its_frame_is_kept(cast, as_person, head):
    assert as_person(cast.lead).post(head, {"logo": file(png(zlib.compress(DOTS)), "logo.png")}).status_code == 302
    assert bytes(Letterhead.objects.get().logo).startswith(b"\x89PNG")


def test_a_name_its_place_does_not_fill_in_is_refused_where_it_stands(cast, as_person, head):
    answer = as_person(cast.lead).post(f"{head}en/letter/", {"title": "For {worker}", "contact": "Ask {contact}."})
    assert answer.status_code == 422
    assert "Found {worker}; wanted only no names. Nothing was kept." in text_of(answer)
    assert not Letterhead.objects.exists()


def test_a_logo_that_can_no_longer_be_drawn_is_told_in_the_log_and_the_report_is_made(cast, as_person, caplog):
    Letterhead.objects.create(site=cast.survey.site, logo=b"<svg><rect", firm="Fernbrook")
    assert as_person(cast.lead).get(PAPERS + "summary.docx").status_code == 200
    assert "documents are made without it" in caplog.text


def test_only_a_lead_of_the_site_sets_them(cast, as_person, head):
    for person, status in ((cast.technician, 403), (cast.reviewer, 403), (cast.outsider, 404)):
        client = as_person(person)
        assert client.post(head, {"firm": "x"}).status_code == status
        assert client.post(f"{head}en/letter/", {"title": "x"}).status_code == status
    assert as_person(cast.reviewer).get(head).status_code == 200
    assert as_person(cast.lead).get(f"{head}xx/letter/").status_code == 404
    assert as_person(cast.lead).get(f"{head}en/sentence/").status_code == 404
    assert not Letterhead.objects.exists()


def test_a_document_that_was_made_outlives_the_server_byte_for_byte(cast, as_person):
    client = as_person(cast.lead)
    made = client.get(PAPERS + "letter.pdf?worker=W-1").content
    making._held.clear()  # as a restart does
    kept = KeptDocument.objects.get()
    assert bytes(kept.content) == made
    assert kept.sha256 == hashlib.sha256(made).hexdigest()
    page = client.get("/surveys/demo/report/kept/")
    assert kept.sha256 in text_of(page)
    assert "today" in text_of(page)
    assert client.get(f"/surveys/demo/report/kept/{kept.pk}").content == made
    client.get(PAPERS + "letter.pdf?worker=W-1")
    assert KeptDocument.objects.count() == 1
    limit = cast.survey.limits.all()[0]
    limit.value *= 2
    limit.save()
    assert "an earlier state" in text_of(client.get("/surveys/demo/report/kept/"))
    assert client.get(f"/surveys/demo/report/kept/{kept.pk}").content == made
    assert as_person(cast.outsider).get(f"/surveys/demo/report/kept/{kept.pk}").status_code == 404


def test_many_kept_documents_stand_on_several_pages(cast, as_person, monkeypatch):
    monkeypatch.setattr(paper_views, "KEPT_A_PAGE", 2)
    for number in range(3):
        content = str(number).encode()
        keep(cast.survey, f"paper-{number}.pdf", "application/pdf", content, made_from="0" * 64, by="lead")
    client = as_person(cast.viewer)
    first, second = (text_of(client.get(f"/surveys/demo/report/kept/?page={n}")) for n in (1, 2))
    assert "paper-2.pdf" in first
    assert "paper-0.pdf" not in first
    assert "Page 1 of 2" in first
    assert "paper-0.pdf" in second


def test_a_document_of_the_whole_survey_is_called_by_no_worker_whatever_an_address_says(cast, as_person):
    """The address is typed by anybody; what is kept stays for good."""
    client = as_person(cast.viewer)
    answer = client.get(PAPERS + "summary.pdf?worker=Ada+Brown&group=" + "x" * 400)
    assert answer["Content-Disposition"] == 'attachment; filename="demo-summary.pdf"'
    assert KeptDocument.objects.get().file == "demo-summary.pdf"
    assert client.get(PAPERS + "summary.pdf?worker=another").content == answer.content
    client.get(PAPERS + "letter.pdf?worker=W-1&group=LAM")
    assert KeptDocument.objects.last().file == "demo-letter-W-1.pdf"


def test_nothing_alters_or_removes_what_is_kept_and_an_alteration_from_outside_is_not_given_out(
    cast, as_person, monkeypatch
):
    client = as_person(cast.lead)
    client.get(PAPERS + "summary.pdf")
    kept = KeptDocument.objects.get()
    for change in (lambda: KeptDocument.objects.update(content=b"x"), lambda: KeptDocument.objects.all().delete()):
        with pytest.raises(DatabaseError, match="only added to"), transaction.atomic():
            change()
    monkeypatch.setattr(KeptDocument, "content", property(lambda self: b"x", lambda self, value: None), raising=False)
    answer = client.get(f"/surveys/demo/report/kept/{kept.pk}")
    assert answer.status_code == 500
    assert "is not what its hash says" in text_of(answer)


def test_letters_with_names_are_kept_by_code_only_and_who_had_them_made_is_logged(cast, as_person, caplog):
    caplog.set_level("INFO")
    WorkerName.objects.get_or_create(worker=cast.survey.site.workers.get(code="W-1"), defaults={"name": "Ada Brown"})
    WorkerName.objects.update(name=NAME_BEHIND_A_CODE)
    named = as_person(cast.lead).get(PAPERS + "letters.zip?names=yes")
    kept = KeptDocument.objects.get()
    words = {}
    for which, content in (("named", named.content), ("kept", bytes(kept.content))):
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            letter = docx.Document(io.BytesIO(packed.read("letter-W-1.docx")))
        words[which] = " ".join(cell.text for table in letter.tables for row in table.rows for cell in row.cells)
    assert NAME_BEHIND_A_CODE in words["named"]
    assert NAME_BEHIND_A_CODE not in words["kept"]
    assert "worker names of 'works' given to 'lead'" in caplog.text
    assert NAME_BEHIND_A_CODE not in caplog.text


def test_open_data_is_made_anew_each_time(cast, as_person):
    client = as_person(cast.lead)
    for name in ("samples.csv", "verdicts.csv", "assessment.json", "groups.json"):
        assert client.get(PAPERS + name).status_code == 200
    assert not KeptDocument.objects.exists()


def test_with_a_signature_the_report_is_kept(cast, as_person):
    client = as_person(cast.lead)
    page = client.get("/surveys/demo/review/sign/")
    read = page.context["form"].initial["read"]
    given = {"read": read, "sure": "on", "password": PASSWORD}
    assert client.post("/surveys/demo/review/sign/", given).status_code == 302
    kept = KeptDocument.objects.get()
    assert kept.file == "demo-survey-report.pdf"
    assert kept.input_sha256 == cast.survey.signatures.get().input_sha256
    shown = client.get(f"/surveys/demo/review/signatures/{cast.survey.signatures.get().pk}/")
    assert kept.sha256 in text_of(shown)
