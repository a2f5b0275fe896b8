"""A laboratory's file is read by its map: nothing guessed, nothing left out, nothing corrected twice."""

import zipfile

import openpyxl
import pytest
from copied import Copied

from lapel.exchange import read_survey

CSV, TOML = "laboratory/AB-26-1187.csv", "laboratory/AB-26-1187.toml"
XLSX, XLSX_TOML = "laboratory/GA-4821.xlsx", "laboratory/GA-4821.toml"


@pytest.fixture
def small(tmp_path):
    return Copied(tmp_path)


@pytest.fixture
def hard(tmp_path):
    return Copied(tmp_path, "hard")


def result(survey, sampler, agent):
    (found,) = [row for row in survey.results if (row.sampler, row.agent) == (sampler, agent)]
    return found


def workbook(hard, change):
    book = openpyxl.load_workbook(hard.root / XLSX)
    change(book, book["Results"])
    book.save(hard.root / XLSX)


def test_below_the_reporting_limit_is_a_bound_and_no_number(small):
    """“<5” on the back section: at most 5 ug, and 5 ug is its reporting limit."""
    row = result(read_survey(small.root), "L-101", "styrene")
    assert (row.front_below, row.back_ug, row.back_below, row.reporting_limit_ug) == (False, 5.0, True, 5.0)


def test_not_detected_stands_for_the_reporting_limit_of_its_row(hard):
    """Report GA-4822 prints n.d. and 0,005 mg."""
    row = result(read_survey(hard.root), "G-153", "mek")
    assert (row.front_ug, row.front_below, row.reporting_limit_ug) == (5.0, True, 5.0)


def test_not_detected_without_a_reporting_limit_is_a_fault(small):
    small.set(CSV, 2, **{"Front, ug": "ND", "Reporting limit, ug": ""})
    assert "reporting limit beside it" in small.only_fault().wanted


def test_decimal_commas_and_milligrams_are_read_where_the_map_says_so(hard):
    survey = read_survey(hard.root)
    text = next(
        row for row in (hard.root / "laboratory/GA-4822.csv").read_text().split("\n") if row.startswith("G-110")
    )
    milligrams = float(text.split(";")[2].replace(",", "."))
    row = result(survey, "G-110", "mek")
    assert row.front_ug == pytest.approx(1000 * milligrams, rel=1e-12)
    assert (row.recovery, row.relative_u) == (0.88, pytest.approx(0.055))
    assert survey.reports["GA-4822"].recovery_corrected_by == "nobody"


def test_a_decimal_comma_the_map_does_not_say_is_a_fault(small):
    small.set(CSV, 2, **{"Front, ug": "15,2"})
    assert "decimal point" in small.only_fault().wanted


@pytest.mark.parametrize(
    "text", ["1.234,5", "1,234,5", "12 3", "0.5 U", "~4", "≤3", "<", "<0", "-3", "1e12", "nan", ""]
)
def test_a_mass_that_is_none_is_a_fault(small, text):
    small.set(CSV, 2, **{"Front, ug": text})
    fault = small.only_fault()
    assert (fault.where.file, fault.where.row, fault.where.column) == (CSV, 2, "Front, ug")


def test_a_sampler_the_survey_does_not_have_is_a_fault(small):
    small.set(CSV, 2, Sample="L-201")
    assert small.only_fault().found == "“L-201”"


def test_an_agent_nobody_named_is_a_fault(small):
    small.set(CSV, 2, Analyte="Styrenes")
    assert "Did you mean “styrene”?" in small.only_fault().remedy


def test_a_column_nobody_named_is_a_fault(small):
    rows = small.rows(CSV)
    small.write(CSV, [row | {"Dilution": "10"} for row in rows])
    assert small.only_fault().where.column == "Dilution"
    small.replace(TOML, "header_row = 1", 'header_row = 1\nignored_columns = ["Dilution"]')
    assert small.faults() == []


def test_a_result_that_stands_twice_is_a_fault(small):
    rows = small.rows(CSV)
    small.write(CSV, [*rows, rows[0]])
    assert "which row 2 has too" in small.only_fault().found


def test_who_corrected_must_be_said(small):
    small.replace(TOML, 'blank_corrected_by = "nobody"\n', "")
    assert small.only_fault().where.column == "blank_corrected_by"


def test_a_printed_uncertainty_needs_its_coverage_factor(small):
    small.replace(TOML, "uncertainty_coverage_factor = 2\n", "")
    assert small.only_fault().where.column == "uncertainty_coverage_factor"


def test_a_word_for_no_result_is_kept_as_a_note(small):
    small.set(CSV, 2, **{"Front, ug": "tube broken"})
    assert small.only_fault().where.row == 2
    small.replace(TOML, "header_row = 1", 'header_row = 1\nnot_analysed = ["tube broken"]')
    survey = read_survey(small.root)
    assert not [row for row in survey.results if row.sampler == "L-101"]
    assert "tube broken" in survey.notes["not analysed: L-101, styrene"]


def test_a_delivered_file_without_a_map_is_a_fault(small):
    (small.root / "laboratory/more.xlsx").write_bytes(b"x")
    assert "laboratory/more.toml" in small.only_fault().wanted


def test_a_map_cannot_lead_out_of_its_folder(small):
    small.replace(TOML, 'file = "AB-26-1187.csv"', 'file = "../shifts.csv"')
    assert any(fault.where.column == "file" for fault in small.faults())


def test_a_file_in_another_encoding_is_read_where_the_map_says_so(small):
    path = small.root / CSV
    path.write_bytes(path.read_text(encoding="utf-8").replace("ug", "µg").encode("cp1252"))
    toml = small.root / TOML
    toml.write_text(toml.read_text(encoding="utf-8").replace(", ug", ", µg"), encoding="utf-8")
    assert "not utf-8" in small.only_fault().found
    small.replace(TOML, "header_row = 1", 'header_row = 1\nencoding = "windows-1252"')
    assert small.faults() == []


def test_a_workbook_is_read_below_its_title_and_above_its_remarks(hard):
    survey = read_survey(hard.root)
    row = result(survey, "G-116", "n-hexane")
    sheet = openpyxl.load_workbook(hard.root / XLSX)["Results"]
    line = next(cells for cells in sheet.iter_rows(values_only=True) if cells[0] == "G-116")
    assert (row.front_ug, row.back_ug) == (line[3], line[4])
    assert 0.29 < row.back_ug / row.front_ug < 0.33
    assert row.analysed_on.isoformat() == "2026-11-09"


@pytest.mark.parametrize(
    ("value", "found"), [("=2*3", "the formula"), ("#N/A", "the error"), (True, "a truth value")], ids=str
)
def test_a_cell_without_a_value_is_a_fault(hard, value, found):
    workbook(hard, lambda book, sheet: sheet.cell(4, 2, value))
    fault = hard.only_fault()
    assert (fault.where.file, fault.where.row, fault.where.column) == (XLSX, 4, "Toluene front")
    assert found in fault.found


def test_several_sheets_need_a_name(hard):
    workbook(hard, lambda book, sheet: book.create_sheet("Notes"))
    assert "“Results”, “Notes”" in hard.only_fault().wanted
    hard.replace(XLSX_TOML, "header_row = 3", 'header_row = 3\nsheet = "Results"')
    assert hard.faults() == []


def test_a_workbook_that_would_unpack_to_gigabytes_is_refused(hard):
    with zipfile.ZipFile(hard.root / XLSX, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * 30_000_000)
    assert "shrinks more than 200 to 1" in hard.only_fault().found


def test_a_workbook_with_entities_is_refused(hard):
    bomb = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><x>&b;</x>'
    with zipfile.ZipFile(hard.root / XLSX, "w") as packed:
        packed.writestr("xl/workbook.xml", bomb)
    assert "document type" in hard.only_fault().found


def test_a_workbook_that_is_none_is_refused(hard):
    (hard.root / XLSX).write_bytes(b"\xd0\xcf\x11\xe0" * 100)
    assert "no .xlsx" in hard.only_fault().found


def test_the_published_schema_of_a_laboratorys_map_is_the_one_in_use():
    import json
    from pathlib import Path

    from lapel.exchange.laboratory import SCHEMA

    page = Path(__file__).parents[2] / "docs/reference/laboratory-map.schema.json"
    assert json.loads(page.read_text(encoding="utf-8")) == SCHEMA
