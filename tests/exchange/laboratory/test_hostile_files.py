"""Files that would harm are refused with a sentence, quickly and without filling the memory."""

import io
import time
import tracemalloc
import zipfile

import openpyxl
import pytest
from writer_of_reports import expected

from lapel.exchange.laboratory import empty_map, propose, read_content
from lapel.exchange.laboratory.refusals import content_of
from lapel.exchange.problems import InputProblems

QUICK_S = 20.0
SMALL_BYTES = 400_000_000


def workbook(*parts):
    """A real workbook with parts added or replaced."""
    book = openpyxl.Workbook()
    book.active.append(["Sample", "Analyte", "Mass (ug)"])
    book.active.append(["K-101", "Toluene", 3.5])
    plain = io.BytesIO()
    book.save(plain)
    out = io.BytesIO()
    replaced = {name for name, _ in parts}
    with zipfile.ZipFile(plain) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            if name not in replaced:
                target.writestr(name, source.read(name))
        for name, body in parts:
            target.writestr(name, body)
    return out.getvalue()


def refused(name, content):
    tracemalloc.start()
    started = time.monotonic()
    try:
        with pytest.raises(InputProblems) as problems:
            read_content(name, content)
    finally:
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert time.monotonic() - started < QUICK_S
    assert peak < SMALL_BYTES
    (problem,) = problems.value
    assert problem.found
    assert problem.wanted
    assert problem.remedy
    return problem


def test_a_zip_bomb_is_refused_before_it_is_unpacked():
    bomb = workbook(("xl/worksheets/sheet1.xml", b"<worksheet>" + b" " * 300_000_000 + b"</worksheet>"))
    assert len(bomb) < 1_000_000
    assert "shrinks" in refused("r.xlsx", bomb).found


def test_a_bomb_of_many_parts_is_refused():
    parts = [(f"xl/worksheets/x{number}.xml", b"<a/>") for number in range(3000)]
    assert "parts" in refused("r.xlsx", workbook(*parts)).found


def test_macros_are_refused_by_ending_and_by_content():
    assert "macros" in refused("r.xlsm", workbook()).found
    assert "macros" in refused("r.xlsx", workbook(("xl/vbaProject.bin", b"x"))).found


def test_other_files_inside_a_workbook_are_refused():
    assert "other files" in refused("r.xlsx", workbook(("xl/embeddings/oleObject1.bin", b"x"))).found


@pytest.mark.parametrize("declaration", [b"<!DOCTYPE x [<!ENTITY a 'aa'>]>", b"<! ENTITY a 'b'>"])
def test_xml_with_entities_is_refused(declaration):
    body = b"<?xml version='1.0'?>" + declaration + b"<worksheet>&a;</worksheet>"
    assert "document type" in refused("r.xlsx", workbook(("xl/worksheets/sheet1.xml", body))).found


def test_links_to_other_files_are_not_followed_and_said():
    content = workbook(("xl/externalLinks/externalLink1.xml", b"<externalLink/>"))
    file = read_content("r.xlsx", content)
    assert any("links" in remark for remark in file.remarks)


def test_a_formula_is_never_computed():
    book = openpyxl.Workbook()
    book.active.append(["Sample", "Analyte", "Mass (ug)"])
    book.active.append(["K-101", "Toluene", '=HYPERLINK("http://example.invalid","5")'])
    out = io.BytesIO()
    book.save(out)
    proposal = propose(read_content("r.xlsx", out.getvalue()), expected(), empty_map())
    assert proposal.results == ()
    assert any("formula" in question.asks for question in proposal.questions)


def test_a_formula_in_a_text_file_is_only_text():
    text = "Sample,Analyte,Mass (ug)\nK-101,Toluene,=1+1\n"
    proposal = propose(read_content("r.csv", text.encode()), expected(), empty_map())
    assert proposal.results == ()
    assert proposal.questions


def test_a_million_columns_are_refused():
    assert "columns" in refused("r.csv", b",".join([b"x"] * 1_000_000) + b"\n").found


def test_a_workbook_of_too_many_columns_is_refused():
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Wide")
    sheet.append(list(range(900)))
    out = io.BytesIO()
    book.save(out)
    assert "columns" in refused("r.xlsx", out.getvalue()).found


def test_a_sheet_that_claims_a_million_rows_is_read_to_its_real_end():
    body = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><dimension ref="A1:XFD1048576"/>'
        b'<sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>Sample</t></is></c></row>'
        b'<row r="1048576"><c r="A1048576"><v>1</v></c></row></sheetData></worksheet>'
    )
    started = time.monotonic()
    file = read_content("r.xlsx", workbook(("xl/worksheets/sheet1.xml", body)))
    assert time.monotonic() - started < QUICK_S
    assert len(file.sheets[0].rows) < 3000


def test_two_hundred_megabytes_are_refused_without_being_read(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as stream:
        stream.truncate(200_000_000)
    tracemalloc.start()
    with pytest.raises(InputProblems, match="200 MB"):
        content_of(path)
    assert tracemalloc.get_traced_memory()[1] < 5_000_000
    tracemalloc.stop()


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("r.xlsx", b"\xd0\xcf\x11\xe0" + b"0" * 200),
        ("r.csv", b"PK\x03\x04" + b"0" * 200),
        ("r.xlsx", b"Sample,Mass\n"),
        ("r.pdf", b"Sample,Mass\n"),
        ("r.csv", b"<html><body>Please log in</body></html>"),
        ("r.csv", b"MZ\x90\x00" + b"0" * 50),
        ("r.exe", b"MZ"),
        ("r.csv", b""),
        ("r.csv", b"\xef\xbb\xbf  \n"),
        ("r.xlsx", b"PK\x03\x04 cut off"),
    ],
)
def test_what_is_not_what_its_ending_says_is_refused(name, content):
    refused(name, content)


def test_a_quoted_cell_without_end_is_refused():
    assert "does not end" in refused("r.csv", b'Sample,Mass\n"K-101,3\n' * 3).found


def test_a_cell_of_megabytes_is_refused():
    refused("r.csv", b"Sample,Mass\nK-101," + b"9" * 5_000_000 + b"\n")


def test_control_signs_are_refused():
    assert "no text" in refused("r.csv", b"Sample,Mass\nK-101,\x003\n" * 4 + b"\x07").found


def test_a_damaged_pdf_is_refused():
    refused("r.pdf", b"%PDF-1.4\n" + b"garbage " * 100)
