"""What goes to the laboratory: counted, complete, coded, on a form that reads back."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest

from lapel.assessment.dispatch import Shipment, by_parcel, days_left, not_packed, shipments
from lapel.assessment.inputs import Survey
from lapel.cli.main import main
from lapel.documents.custody_form import COPIES, Issue, custody_copies
from lapel.documents.parcel_labels import SEALS, parcel_labels
from lapel.exchange.custody_json import custody_as_data
from lapel.exchange.survey_folder import read_survey
from lapel.fieldlog import Entry, fold
from lapel.reference import rule_book
from tests.documents.pdf_text import squeezed, whole_text
from tests.documents.qr_reader import read_qr

EXAMPLES = Path(__file__).parents[2] / "examples"
DRAWN = "drawn 40,120 90,60 140,130;150,70 260,75"
MADE = Issue(1, datetime(2026, 11, 2, 15, tzinfo=UTC), laboratory="Greyfell Analytical (invented)")


@pytest.fixture(scope="module")
def hard() -> Survey:
    return read_survey(EXAMPLES / "hard")


def packed(survey: Survey) -> dict[str, Shipment]:
    return dict(by_parcel(shipments(survey, fold(survey.entries), rule_book(survey.rule_book))))


def changed(survey: Survey, kind: str, change) -> Survey:
    """The survey with entries of a kind changed, or left out where the change gives None."""
    entries: list[Entry] = []
    for entry in survey.entries:
        made = change(entry) if entry.kind == kind else entry
        entries += [made] if made is not None else []
    return replace(survey, entries=tuple(entries))


def test_every_sampler_and_blank_of_the_survey_lies_in_one_parcel(hard: Survey):
    day = fold(hard.entries)
    inside = [sample.sampler for shipment in packed(hard).values() for sample in shipment.samples]
    assert sorted(inside) == sorted([*day.runs, *day.blanks])
    assert not_packed(hard, day) == ()
    assert all(shipment.may_go for shipment in packed(hard).values())


def test_the_first_holding_time_to_end_says_by_when_it_must_be_there(hard: Survey):
    """By hand: 2-butanone in K-1 holds 14 days from the last tube off; the first of them ends on 12 November."""
    shipment = packed(hard)["K-1"]
    held = {
        sample.sampler: sample.hold_until for sample in shipment.samples if sample.medium.startswith("carbon molecular")
    }
    runs = fold(hard.entries).runs
    for code, until in held.items():
        if code in runs:
            last = max(segment.stop for segment in runs[code].segments if segment.stop)
            assert until == last + timedelta(days=14)
    assert shipment.latest_arrival == min(s.hold_until for s in shipment.samples if s.hold_until)
    assert shipment.receipt_max_c == 8.0
    assert days_left(shipment.latest_arrival, shipment.latest_arrival - timedelta(days=3)) == pytest.approx(3.0)
    assert days_left(None, MADE.made_at) is None


def test_what_is_expected_is_a_tenth_of_the_limit_to_the_limit_in_the_air_drawn(hard: Survey):
    """Toluene on G-101: 200 ppm = 200 x 92.14/24.465 mg/m3, in 7.218 L, by hand 5437 ug and a tenth of it."""
    sample = next(s for s in packed(hard)["K-1"].samples if s.sampler == "G-101")
    toluene = next(r for r in sample.requests if r.agent == "toluene")
    whole = 200.0 * 92.14 / 24.465 * sample.volume_l
    assert toluene.high_ug == pytest.approx(whole, rel=1e-3)
    assert toluene.low_ug == pytest.approx(0.1 * toluene.high_ug, rel=1e-12)
    assert toluene.reporting_limit_ug == 2.0


def edited(entry: Entry, **fields: str) -> Entry:
    return replace(entry, fields={**entry.fields, **fields}, hash="", previous_hash="")


def test_a_sampler_left_behind_stops_the_parcel_of_its_day(hard: Survey):
    def without(entry: Entry) -> Entry:
        kept = " ".join(code for code in entry.fields["samplers"].split() if code != "G-104")
        return edited(entry, samplers=kept)

    shipment = packed(changed(hard, "parcel_sealed", without))["K-1"]
    assert not shipment.may_go
    assert [(matter.kind, matter.samplers) for matter in shipment.matters] == [("missing", ("G-104",))]


def test_a_stranger_and_a_sampler_in_two_parcels_stop_them(hard: Survey):
    def more(entry: Entry) -> Entry:
        extra = {"K-2": " G-101", "K-3": " Z-999"}.get(entry.fields["parcel"], "")
        return edited(entry, samplers=entry.fields["samplers"] + extra)

    found = packed(changed(hard, "parcel_sealed", more))
    kinds = {code: {m.kind for m in shipment.matters if m.weight == "stop"} for code, shipment in found.items()}
    assert kinds["K-1"] == {"twice"}
    assert kinds["K-2"] == {"twice"}
    assert {"extra"} <= kinds["K-3"]


def test_bulk_never_goes_with_air_samples(hard: Survey):
    lots = {
        code: replace(lot, medium="bulk liquid") if code == "CM-0401" else lot for code, lot in hard.media_lots.items()
    }
    blanks = changed(
        replace(hard, media_lots=lots),
        "blank_opened",
        lambda entry: edited(entry, medium="bulk liquid") if entry.fields.get("lot") == "CM-0401" else entry,
    )
    assert "bulk" in {matter.kind for matter in packed(blanks)["K-1"].matters if matter.weight == "stop"}


def test_a_lot_without_a_blank_is_said(hard: Survey):
    none = changed(hard, "blank_opened", lambda entry: None if entry.fields.get("lot") == "DN-2219" else entry)
    matters = [matter for matter in packed(none)["K-1"].matters if matter.kind == "blank"]
    assert "DN-2219" in matters[0].words


def test_the_form_names_no_worker_and_every_sampler_with_its_request(hard: Survey, tmp_path: Path):
    shipment = packed(hard)["K-1"]
    path = tmp_path / "form.pdf"
    path.write_bytes(custody_copies(hard, shipment, MADE))
    text = whole_text(path)
    for sample in shipment.samples:
        assert text.count(squeezed(sample.sampler)) >= 3
        for request in sample.requests:
            assert squeezed(request.cas) in text
    assert not [code for code in hard.workers if squeezed(code) in text]
    for copy in ("for the laboratory", "for the sender", "for the file"):
        assert squeezed(copy) in text


def test_the_codes_of_a_printed_page_read_as_the_samplers(hard: Survey):
    """The first rows of the laboratory's copy, from pixels: codes of 13 mm in the second column."""
    shipment = packed(hard)["K-1"]
    pdf = pypdfium2.PdfDocument(io.BytesIO(custody_copies(hard, shipment, MADE, COPIES[:1])))
    scale = 300 / 72
    page = np.asarray(pdf[0].render(scale=scale).to_pil().convert("L"))
    mm = 300 / 25.4
    column = page[:, round(19 * mm) : round(34 * mm)]
    dark = (column < 128).any(axis=1)
    read, start = [], None
    for y, is_dark in enumerate([*dark, False]):
        if is_dark and start is None:
            start = y
        elif not is_dark and start is not None:
            if (y - start) / mm > 8:
                text, _ = read_qr(np.pad(column[start:y], 40, constant_values=255))
                read.append(text)
            start = None
    assert len(read) >= 4
    assert read == [sample.sampler for sample in shipment.samples][: len(read)]


def test_form_labels_and_seals_are_made_as_the_standards_want(hard: Survey):
    shipment = packed(hard)["K-1"]
    for pdf in (custody_copies(hard, shipment, MADE), parcel_labels(hard, shipment, dated=MADE.made_at.date())):
        with pikepdf.open(io.BytesIO(pdf)) as opened:
            meta = opened.open_metadata()
            assert (meta["pdfaid:part"], meta["pdfaid:conformance"], meta["pdfuaid:part"]) == ("2", "A", "1")
            assert "/StructTreeRoot" in opened.Root
            assert opened.Root["/MarkInfo"]["/Marked"]


def test_a_parcels_label_and_seals_carry_its_number_and_nobodys_code(hard: Survey, tmp_path: Path):
    shipment = packed(hard)["K-1"]
    path = tmp_path / "labels.pdf"
    path.write_bytes(parcel_labels(hard, shipment, dated=MADE.made_at.date(), receiver="Greyfell (invented)"))
    text = whole_text(path)
    assert text.count(squeezed(f"SEAL {shipment.parcel.seal}")) == SEALS
    assert squeezed("10 air samples, 6 blanks: 16 in all") in text
    assert squeezed("at most 8 °C") in text
    assert squeezed("Greyfell (invented)") in text
    assert not [code for code in hard.workers if squeezed(code) in text]
    page = np.asarray(pypdfium2.PdfDocument(path)[0].render(scale=300 / 72).to_pil().convert("L"))
    mm = 300 / 25.4
    assert codes_below(page, mm) == ["K-1"] * SEALS


def codes_below(page: np.ndarray, mm: float) -> list[str]:
    """QR codes in the column of the seals, read from its pixels."""
    column = page[round(100 * mm) :, round(20 * mm) : round(40 * mm)]
    dark = np.convolve((column < 128).any(axis=1), np.ones(round(2 * mm)), "same") > 0
    edges = np.flatnonzero(np.diff(np.pad(dark, 1).astype(int)))
    found = [column[top:bottom] for top, bottom in edges.reshape(-1, 2) if (bottom - top) / mm > 14]
    return [read_qr(np.pad(part, 60, constant_values=255))[0] for part in found]


def signed(survey: Survey) -> Survey:
    """The survey with the first hand-over of every parcel signed: an account gives, a courier draws."""
    said = {"from_signature": "account lead", "to_firm": "Swift (invented)", "to_signature": DRAWN}
    firsts = {shipment.parcel.hops[0].entry_id for shipment in packed(survey).values()}
    return changed(survey, "custody_handed", lambda e: edited(e, **said) if e.id in firsts else e)


def test_the_form_shows_how_both_signed_and_a_drawing_line_by_line(hard: Survey, tmp_path: Path):
    shipment = packed(signed(hard))["K-1"]
    path = tmp_path / "form.pdf"
    path.write_bytes(custody_copies(hard, shipment, MADE, COPIES[:1]))
    text = whole_text(path)
    assert squeezed("account lead") in text
    assert squeezed("Swift (invented)") in text
    bare = custody_copies(hard, packed(hard)["K-1"], MADE, COPIES[:1])
    assert round_lines(path.read_bytes()) == round_lines(bare) + 2


def round_lines(pdf: bytes) -> int:
    """Paths drawn with a thick round pen on all pages: the lines of signatures, which nothing else on the form is."""
    count = 0
    for page in pypdfium2.PdfDocument(io.BytesIO(pdf)):
        for one in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_PATH], max_depth=4):
            count += pypdfium2.raw.FPDFPageObj_GetLineCap(one) == pypdfium2.raw.FPDF_LINECAP_ROUND
    return count


def test_an_issue_that_replaces_another_says_so_and_the_same_issue_gives_the_same_bytes(hard: Survey, tmp_path: Path):
    shipment = packed(hard)["K-2"]
    again = replace(MADE, number=2, reason="G-105 was listed twice")
    path = tmp_path / "form.pdf"
    path.write_bytes(custody_copies(hard, shipment, again))
    assert squeezed("This replaces issue 1: G-105 was listed twice") in whole_text(path)
    assert custody_copies(hard, shipment, again) == path.read_bytes()


def test_the_open_data_hold_what_the_form_holds_and_nobodys_code(hard: Survey):
    shipment = packed(hard)["K-1"]
    data = custody_as_data(hard, shipment, issue=1, made_at=MADE.made_at)
    assert [row["sampler"] for row in data["samples"]] == [sample.sampler for sample in shipment.samples]
    assert data["held_by"] == "Reception, Greyfell Analytical"
    assert not [code for code in hard.workers if f'"{code}"' in str(data) or f"'{code}'" in str(data)]


def test_the_command_writes_form_and_data_or_says_why_not(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    folder, pdf, data = str(EXAMPLES / "hard"), tmp_path / "f.pdf", tmp_path / "f.json"
    assert main(["dispatch", folder]) == 0
    assert "Parcel K-3" in capsys.readouterr().out
    sheet = tmp_path / "l.pdf"
    assert main(["dispatch", folder, "K-1", "--pdf", str(pdf), "--json", str(data), "--labels", str(sheet)]) == 0
    assert sheet.read_bytes().startswith(b"%PDF")
    assert pdf.read_bytes().startswith(b"%PDF")
    assert '"format": "lapel-custody"' in data.read_text("utf-8")
    assert main(["dispatch", folder, "K-9"]) == 2
    assert main(["dispatch", folder, "K-1", "--issue", "2"]) == 2
    assert main(["dispatch", folder, "--pdf", str(pdf)]) == 2
