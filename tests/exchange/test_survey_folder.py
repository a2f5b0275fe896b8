"""What the folder says becomes the survey, exactly; what cannot be is told with its place."""

import csv
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from copied import Copied

from lapel.exchange import InputProblems, read_survey
from lapel.exchange.survey_folder.packaged import limit_key, packaged_limits
from lapel.reference import library

ROOT = Path(__file__).parents[2]
LOG = "log/flow_read.csv"


@pytest.fixture
def small(tmp_path):
    return Copied(tmp_path)


@pytest.fixture
def hard(tmp_path):
    return Copied(tmp_path, "hard")


def test_quantities_come_in_canonical_units_whatever_was_typed(small):
    small.set("methods.csv", 2, flow_min="0.01", flow_max="0.2", flow_unit="L/min")
    small.set("methods.csv", 2, volume_min="1000", volume_max="14000", volume_unit="mL")
    small.set("methods.csv", 2, reporting_limit="0.005", reporting_limit_unit="mg")
    method = read_survey(small.root).methods["1501-styrene"]
    assert (method.flow_min_lpm, method.flow_max_lpm) == (0.01, 0.2)
    assert (method.volume_min_l, method.volume_max_l, method.reporting_limit_ug) == (1.0, 14.0, 5.0)
    assert (method.analysis_cv, method.blanks_share) == (0.04, 0.1)


def test_half_a_blank_is_not_cut_down_to_none(small):
    small.set("methods.csv", 2, blanks_min="2.5")
    assert "whole number" in small.only_fault().wanted


def test_a_sampler_has_one_method_an_agent_and_one_medium(small):
    small.set("samples.csv", 2, methods="1501-styrene; 1501-again")
    small.add("methods.csv", code="1501-again", agent="styrene", medium="charcoal 100/50")
    assert small.only_fault().found == "two methods for one agent"
    small.set("samples.csv", 2, methods="1501-styrene; 2555-acetone")
    fault = small.only_fault()
    assert (fault.where.file, fault.where.row) == ("samples.csv", 2)
    assert "methods that want different media: carbon molecular sieve 150/75, charcoal 100/50" in fault.found


def test_a_file_that_is_no_part_of_the_folder_is_not_passed_over(small):
    (small.root / "limit.csv").write_text("agent\n", encoding="utf-8")
    fault = small.only_fault()
    assert fault.where.file == "limit.csv"
    assert "limits.csv" in fault.remedy


def test_a_receipt_limit_in_fahrenheit_is_the_same_temperature(small):
    small.set("methods.csv", 3, receipt_max="46.4", receipt_max_unit="°F")
    assert read_survey(small.root).methods["2555-acetone"].receipt_max_c == pytest.approx(8.0, abs=1e-9)


def test_an_expanded_uncertainty_becomes_a_standard_one(hard):
    """U = 2 % of reading and 2 % of a full scale of 60 mL/min, k = 2."""
    meter = read_survey(hard.root).meters["R-5"]
    assert meter.relative_u == pytest.approx(0.01)
    assert meter.full_scale_u_lpm == pytest.approx(0.0006)
    assert meter.exponent is None
    assert (meter.calibrated_at.temperature_k, meter.calibrated_at.pressure_kpa) == (293.15, 101.325)


def test_a_curve_is_pairs_of_rising_flows(small):
    small.set("equipment/meters.csv", 2, curve="50=49.1; 100=98.8")
    assert read_survey(small.root).meters["M-2"].curve == ((0.05, 0.0491), (0.1, 0.0988))
    small.set("equipment/meters.csv", 2, curve="100=98.8; 50=49.1")
    assert "rising" in small.only_fault().wanted


def test_a_night_with_a_clock_change_has_its_true_length(hard):
    """America/Denver set its clocks back on 1 November 2026 at 02:00: 22:00 to 06:00 are nine hours."""
    shift = read_survey(hard.root).shifts["S-08"]
    assert shift.end - shift.start == timedelta(hours=9)
    assert shift.start.astimezone(UTC) == datetime(2026, 11, 1, 4, 0, tzinfo=UTC)


def test_a_time_the_clock_showed_twice_needs_its_offset(hard):
    hard.add("log/conditions.csv", at="2026-11-01T01:30", place="Hall 3", temperature="19", temperature_unit="°C")
    fault = hard.only_fault()
    assert fault.where.file == "log/conditions.csv"
    assert fault.where.column == "at"
    assert "-06:00 or -07:00" in fault.wanted
    assert "2026-11-01T01:30-06:00" in fault.remedy


@pytest.mark.parametrize(("offset", "hour"), [("-06:00", 7), ("-07:00", 8)])
def test_with_its_offset_it_is_one_instant(hard, offset, hour):
    hard.add("log/note.csv", at=f"2026-11-01T01:30{offset}", text="x")
    assert datetime(2026, 11, 1, hour, 30, tzinfo=UTC) in {
        e.at for e in read_survey(hard.root).entries if e.kind == "note"
    }


def test_a_time_the_clock_skipped_is_a_fault(small):
    """New York: 8 March 2026, 02:00 to 03:00 were skipped."""
    small.set("log/train_prepared.csv", 2, charged_at="2026-03-08T02:30")
    assert "jumped ahead" in small.only_fault().wanted


def test_an_offset_the_zone_does_not_have_is_a_fault(small):
    small.set("shifts.csv", 2, end="2026-04-21T11:00-05:00")
    assert "-04:00" in small.only_fault().wanted


def test_what_was_typed_stays_as_typed(small):
    small.set(LOG, 2, reading="050.20", temperature=" 21.50 ")
    entry = next(e for e in read_survey(small.root).entries if e.origin == f"{LOG}, row 2")
    assert (entry.fields["reading"], entry.fields["temperature"], entry.fields["unit"]) == ("050.20", "21.50", "mL/min")
    assert (entry.device, entry.sequence, entry.author) == ("paper", 0, "RQ")


@pytest.mark.parametrize(
    ("cells", "column", "wanted"),
    [
        ({"reading": "50,2"}, "reading", "decimal point"),
        ({"reading": "NaN"}, "reading", "number"),
        ({"reading": "50200"}, "reading", "from 0 to 20 L/min"),
        ({"reading": "-1"}, "reading", "from 0 to 20 L/min"),
        ({"unit": "L/h"}, "unit", "a unit of flow"),
        ({"unit": ""}, "reading", "its unit"),
        ({"temperature": "294.6"}, "temperature", "plausible"),
        ({"humidity_percent": "146"}, "humidity_percent", "from 0 to 100 %"),
        ({"phase": "before"}, "phase", "closing"),
        ({"port": "a"}, "port", "one port letter"),
        ({"meter": "M-3"}, "meter", "equipment/meters.csv"),
        ({"train": "T-9"}, "train", "log/train_prepared.csv"),
        ({"at": "2026-04-21"}, "at", "2026-03-09T05:42"),
        ({"at": "2026-06-21T06:00"}, "at", "a day before it"),
        ({"at": "2025-04-21T06:00"}, "at", "near the shifts"),
        ({"reading": "", "unit": ""}, "reading", "reading with unit, or volume"),
        ({"reading": ""}, "reading", "a number in mL/min"),
    ],
)
def test_a_wrong_cell_is_told_with_its_place(small, cells, column, wanted):
    small.set(LOG, 3, **cells)
    faults = small.faults()
    assert {(f.where.file, f.where.row) for f in faults} == {(LOG, 3)}
    assert any(f.where.column == column and wanted in f.wanted for f in faults), [str(f) for f in faults]


def test_a_port_the_splitter_does_not_have_is_a_fault(small):
    rows = small.rows(LOG)
    number = next(n for n, row in enumerate(rows, start=2) if row["train"] == "T-2")
    small.set(LOG, number, port="C")
    assert "A, B" in small.only_fault().wanted


def test_a_lot_and_a_medium_that_contradict_each_other_are_a_fault(small):
    small.set("log/sampler_fitted.csv", 2, medium="carbon molecular sieve 150/75")
    assert "lot CH-7714" in small.only_fault().found


def test_all_faults_of_all_files_come_at_once_the_surveys_own_first_then_in_order(small):
    small.set("workers.csv", 2, group="LAN").set("agents.csv", 2, molar_mass="104,15").set(LOG, 2, unit="kg")
    small.set("shifts.csv", 3, end="2026-04-21T06:00").replace(
        "survey.toml", 'zone = "America/New_York"', 'zone = "EST5"'
    )
    files = [fault.where.file for fault in small.faults()]
    assert files[0] == "survey.toml"
    rest = [file for file in files if file != "survey.toml"]
    assert files[-len(rest) :] == sorted(rest)
    assert set(rest) == {"agents.csv", "log/flow_read.csv", "shifts.csv", "workers.csv"}
    assert "Did you mean “LAM”?" in next(f.remedy for f in small.faults() if f.where.file == "workers.csv")


def test_every_fault_is_counted_though_few_are_kept(small):
    rows = small.rows(LOG)
    small.write(LOG, [rows[0] | {"reading": "x"} for _ in range(3000)])
    with pytest.raises(InputProblems, match="and 2950 more") as caught:
        read_survey(small.root)
    assert caught.value.count == 3000
    assert len(caught.value.problems) == 500


def test_a_code_whose_own_row_is_a_fault_gives_no_second_fault(small):
    small.set("equipment/meters.csv", 2, certified_on="12.01.2026")
    assert small.only_fault().where.column == "certified_on"


def test_a_table_that_cannot_be_read_gives_no_faults_elsewhere(small):
    (small.root / "workers.csv").write_bytes(b"code,group\nW-1,LAM\xff\n")
    assert small.only_fault().where.row == 2


def test_an_unsampled_time_that_is_not_zero_needs_a_reason(small):
    small.set("shifts.csv", 2, unsampled="mean")
    assert small.only_fault().where.column == "unsampled_reason"


def test_a_standard_meter_must_say_at_which_air(small):
    small.set("equipment/meters.csv", 2, reads="standard")
    assert small.only_fault().where.column == "scale_temperature"


def test_methods_of_two_media_do_not_fit_one_sampler(small):
    small.set("samples.csv", 2, methods="1501-styrene; 2555-acetone")
    assert "different media" in small.only_fault().found


def test_an_unknown_rule_book_is_a_fault_of_the_folder(small):
    small.replace("survey.toml", '"us-osha"', '"us-oshaa"')
    assert "us-osha" in small.only_fault().remedy


def test_a_file_saved_with_semicolons_is_told_once(small):
    rows = small.rows("workers.csv")
    text = "\n".join(";".join(row.values()) for row in rows)
    (small.root / "workers.csv").write_text(f"code;group;job\n{text}\n", encoding="utf-8")
    assert "semicolons" in small.only_fault().found


def test_a_correction_names_a_row_with_an_id(hard):
    survey = read_survey(hard.root)
    (correction,) = [entry for entry in survey.entries if entry.kind == "correction"]
    assert correction.corrects in {entry.id for entry in survey.entries}
    hard.set("log/correction.csv", 2, corrects="sheet-4-line-8")
    assert "Did you mean “sheet-4-line-7”?" in hard.only_fault().remedy


def test_the_hash_is_of_names_and_contents_and_of_nothing_else(small, tmp_path):
    before = read_survey(small.root).input_sha256
    (small.root / "README.md").write_text("other words", encoding="utf-8")
    assert read_survey(small.root).input_sha256 == before
    assert read_survey(Copied(tmp_path / "again").root).input_sha256 == before
    small.set("groups.csv", 2, tasks="others")
    assert read_survey(small.root).input_sha256 != before


def test_a_packaged_limit_fills_the_cells_left_empty(small):
    limits = small.rows("limits.csv")
    row = dict.fromkeys(limits[0], "") | {"agent": "styrene", "reference": "US-NIOSH/100-42-5/STEL-15min/100ppm"}
    small.write("limits.csv", [*limits, row])
    limit = read_survey(small.root).limits[-1]
    assert (limit.authority, limit.kind, limit.value, limit.unit, limit.averaging_min) == (
        "US-NIOSH",
        "STEL",
        100,
        "ppm",
        15,
    )
    assert (limit.as_of, limit.binding) == (date(2018, 4, 25), False)
    assert "confirm with the authority" in limit.note
    assert "Pocket Guide" in limit.source


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"reference": "US-NIOSH/100-42-5/STEL-15min/120ppm"}, "reference", "US-NIOSH/100-42-5/STEL-15min/100ppm"),
        ({"reference": "US-NIOSH/67-64-1/TWA-10h/250ppm"}, "reference", "Name the packaged limit of this agent."),
        ({"reference": "US-NIOSH/100-42-5/STEL-15min/100ppm", "value": "101"}, "value", "Leave the cell empty"),
    ],
)
def test_a_packaged_limit_that_does_not_fit_is_a_fault(small, cells, column, words):
    limits = small.rows("limits.csv")
    small.write("limits.csv", [*limits, dict.fromkeys(limits[0], "") | {"agent": "styrene"} | cells])
    fault = small.only_fault()
    assert fault.where.column == column
    assert words in fault.remedy


def test_every_key_of_a_packaged_limit_leads_to_its_number():
    packaged = packaged_limits()
    numbered = [row for row in library().limits if row.value is not None]
    for row in numbered:
        if limit_key(row) in packaged:
            assert (packaged[limit_key(row)]["cas"], packaged[limit_key(row)]["value"]) == (row.cas, row.value)
    assert {limit_key(row) for row in numbered} >= set(packaged)
    assert {"US-OSHA/108-88-3/TWA-8h/200ppm", "EU/50-00-0/TWA-8h/0.3ppm"} <= set(packaged)


def test_a_device_entry_keeps_what_its_hash_is_over(hard):
    entries = [entry for entry in read_survey(hard.root).entries if entry.device == "phone-3"]
    assert sorted(entry.sequence for entry in entries) == list(range(1, len(entries) + 1))
    path = hard.root / "log/phone-3.jsonl"
    path.write_text(path.read_text(encoding="utf-8").replace('"30.', '"31.', 1), encoding="utf-8")
    fault = hard.only_fault()
    assert fault.where.file == "log/phone-3.jsonl"
    assert "altered or lost" in fault.remedy


def test_a_path_that_is_no_folder_is_a_fault(tmp_path):
    with pytest.raises(InputProblems, match="no such folder"):
        read_survey(tmp_path / "nowhere")


def test_a_big_folder_is_made_and_read(tmp_path):
    """The maker of the benchmark's folder gives about thirty log rows a sample, all of them readable."""
    script = ROOT / "benchmarks" / "make_big_folder.py"
    subprocess.run([sys.executable, script, tmp_path / "big", "--samples", "30"], check=True, capture_output=True)
    survey = read_survey(tmp_path / "big")
    assert len(survey.orders) == 30
    assert 25 * 30 <= len(survey.entries) <= 35 * 30
    with (tmp_path / "big" / "samples.csv").open(newline="", encoding="utf-8") as file:
        assert len({row["sampler"] for row in csv.DictReader(file)}) == 30


def test_an_agent_keeps_every_effect_it_shares(small):
    small.set("agents.csv", 2, effect_groups="irritation; narcosis")
    agents = read_survey(small.root).agents
    assert ("irritation", "narcosis") in [agent.effect_groups for agent in agents.values()]
