"""The plan's tables: read whole, all faults at once, and a plan edited by hand read back as it was written."""

import csv
import io
import shutil
from pathlib import Path

import pytest

from lapel.assessment.plan_by_hand import plan_by_hand
from lapel.assessment.planned import plan_kinds, plan_survey
from lapel.exchange.plan_folder.hand import read_hand, write_hand
from lapel.exchange.plan_folder.reader import PlanFolder, read_plan
from lapel.exchange.problems import InputProblems

EXAMPLE = Path(__file__).parents[2] / "examples" / "plan"


@pytest.fixture
def folder(tmp_path):
    copy = tmp_path / "survey"
    shutil.copytree(EXAMPLE, copy)
    return copy


def change(folder, name, old, new):
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def places(folder):
    with pytest.raises(InputProblems) as raised:
        read_plan(folder)
    return {(p.where.file, p.where.column): p for p in raised.value}


def test_the_example_is_read_as_it_stands_in_the_tables():
    inputs = read_plan(EXAMPLE)
    with (EXAMPLE / "plan" / "wanted.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(q.code, q.agent, q.purpose, q.results) for q in inputs.questions] == [
        (row["code"], row["agent"], row["purpose"], int(row["results"]) if row["results"] else None) for row in rows
    ]
    assert inputs.splitter_terms.main_flow_lpm == pytest.approx(1.5)
    assert inputs.splitter_terms.port_min_lpm == pytest.approx(0.005)
    assert inputs.air_temperature_k == pytest.approx(295.15)
    assert inputs.laboratory_terms["2016-formaldehyde"].reporting_limit_ug == pytest.approx(0.2)
    assert inputs.shifts_of("PRI")[0].start_min == 6 * 60 + 30
    assert inputs.shifts_of("LAC")[0].minutes == 480


def test_all_faults_of_all_files_are_told_at_once(folder):
    change(folder, "plan/wanted.csv", "Q2,LAC,,xylene", "Q2,LAC,,xylen")
    change(folder, "plan/days.csv", "2026-06-09T06:00,2026-06-09T14:00,LAC", "2026-06-09T06:00,2026-06-09T05:00,LAC")
    change(folder, "plan/laboratory.csv", "12,L,80", "12,,80")
    change(folder, "plan/technicians.csv", "2026-06-12", "2026-07-12")
    change(folder, "equipment/pumps.csv", "P-11,5,2000,mL/min,", "P-11,,2000,mL/min,")
    change(folder, "plan/plan.toml", 'flow_unit = "mL/min"', "flow_unit = 7")
    found = places(folder)
    for file, column in (
        ("plan/wanted.csv", "agent"),
        ("plan/days.csv", "end"),
        ("plan/laboratory.csv", "breakthrough"),
        ("plan/technicians.csv", "away_on"),
        ("equipment/pumps.csv", "flow_min"),
        ("plan/plan.toml", "splitter.flow_unit"),
    ):
        assert (file, column) in found, (file, column)


@pytest.mark.parametrize(
    ("name", "old", "new", "file", "column", "said"),
    [
        ("plan/wanted.csv", "Q1,LAC,,", "Q1,LAC,L-01,", "plan/wanted.csv", "group", "group and worker both"),
        ("plan/wanted.csv", "Q1,LAC,,", "Q1,,,", "plan/wanted.csv", "group", "neither"),
        ("plan/wanted.csv", "80,0.1,2.2", "80,0.1,", "plan/wanted.csv", "assumed_gsd", "an empty cell"),
        ("plan/wanted.csv", "P-02; P-05; P-11", "P-02; L-05; P-11", "plan/wanted.csv", "named", "L-05"),
        ("plan/wanted.csv", "Q7,,L-03,formaldehyde,short term,15", "Q7,,L-03,formaldehyde,full shift,",
         "plan/wanted.csv", "agent", "wants of L-03 already"),
        ("plan/plan.toml", 'seed = "marrowby 2026-05-20"\n', "", "plan/wanted.csv", "who", "no seed"),
        ("plan/plan.toml", "main_flow = 1500\n", "", "plan/plan.toml", "splitter.main_flow", "nothing"),
        ("plan/areas.csv", "ink store", "ink shop", "plan/areas.csv", "", "ink store"),
        ("plan/areas.csv", "certificate A-17", "certificate A-18", "plan/areas.csv", "", "certificate A-18"),
        ("plan/days.csv", "2026-06-12T06:30,2026-06-12T14:30", "2026-06-12T14:30,2026-06-12T22:30",
         "plan/days.csv", "", "differ"),
        ("plan/laboratory.csv", "2500-mek,Alder", "1501-mek,Alder", "plan/laboratory.csv", "method", "1501-mek"),
        ("methods.csv", "charcoal 100/50,10,200,mL/min,1,8", "charcoal 100/50,,200,mL/min,1,8",
         "methods.csv", "flow_min", "without"),
        ("limits.csv", "formaldehyde,US-OSHA,STEL", "formaldehyde,US-OSHA,action level",
         "plan/wanted.csv", "agent", "without a limit"),
    ],
)  # fmt: skip
def test_tables_that_disagree_are_faults_with_their_place(folder, name, old, new, file, column, said):
    change(folder, name, old, new)
    assert said in places(folder)[file, column].found


def test_a_file_the_plan_does_not_know_is_a_fault(folder):
    (folder / "plan" / "wantd.csv").write_text("code\n", encoding="utf-8")
    assert "Did you mean “plan/wanted.csv”" in places(folder)["plan/wantd.csv", ""].remedy


def test_a_plan_written_for_the_hand_and_read_back_is_the_same_plan(tmp_path):
    reading = PlanFolder(EXAMPLE)
    plan = plan_survey(reading.inputs)
    path = tmp_path / "hand.csv"
    with path.open("w", encoding="utf-8") as stream:
        write_hand(plan, stream)
    trains = read_hand(path, reading, frozenset(plan_kinds(reading.inputs)))
    again = plan_by_hand(reading.inputs, trains)
    assert again.faults == ()
    assert again.campaign.missing == plan.campaign.missing == ()
    told = [(t.day, t.worker, t.pump, t.splitter, t.technician, t.hang_at_min) for t in plan.trains]
    assert [(t.day, t.worker, t.pump, t.splitter, t.technician, t.hang_at_min) for t in again.trains] == told
    for one, other in zip(plan.trains, again.trains, strict=True):
        assert [p.flow_lpm for p in one.ports] == pytest.approx([p.flow_lpm for p in other.ports], rel=1e-5)


def test_rows_of_one_pump_that_disagree_are_a_fault(tmp_path):
    reading = PlanFolder(EXAMPLE)
    text = io.StringIO()
    write_hand(plan_survey(reading.inputs), text)
    lines = text.getvalue().splitlines()
    place = next(i for i, line in enumerate(lines) if ",B," in line)
    lines[place] = lines[place].replace(",TA,", ",T?,").replace(",TB,", ",TA,").replace(",T?,", ",TB,")
    path = tmp_path / "hand.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    with pytest.raises(InputProblems, match="One pump has one splitter, one technician and one time"):
        read_hand(path, reading, frozenset(plan_kinds(reading.inputs)))


def test_unknown_kinds_ports_and_pumps_of_a_hand_plan_are_faults(tmp_path):
    path = tmp_path / "hand.csv"
    path.write_text(
        "day,worker,pump,splitter,port,kind,flow,flow_unit,technician,hang_at\n"
        "2026-06-08,L-01,P-99,T-1,D,K77,12,mL/min,TA,2026-06-08T05:40\n"
        "2026-06-08,L-01,P-11,T-1,D,K77,0,mL/min,TA,2026-06-09T05:40\n",
        encoding="utf-8",
    )
    reading = PlanFolder(EXAMPLE)
    with pytest.raises(InputProblems) as raised:
        read_hand(path, reading, frozenset(plan_kinds(reading.inputs)))
    assert {(p.where.row, p.where.column) for p in raised.value} == {
        (2, "pump"), (3, "port"), (3, "kind"), (3, "flow"), (3, "hang_at"),
    }  # fmt: skip
