"""`lapel results`: nothing is written before every question is answered and a person accepts; then all of it is."""

import csv
import hashlib
import json
import shutil
from pathlib import Path

import openpyxl
import pytest

from lapel.cli.main import main
from lapel.exchange import read_survey

EXAMPLES = Path(__file__).parents[2] / "examples"
FACTS = (
    "report.code=AB-26-1187", "laboratory=Alder Bay laboratory (invented)", "report.received_on=2026-05-04",
    "report.samples_received_on=2026-04-22", "report.receipt_temperature=5", "report.receipt_temperature_unit=°C",
    "recovery_corrected_by=laboratory", "blank_corrected_by=nobody",
)  # fmt: skip


@pytest.fixture
def small(tmp_path):
    """The small example before its report came."""
    folder = tmp_path / "small"
    shutil.copytree(EXAMPLES / "small", folder)
    shutil.rmtree(folder / "laboratory")
    return folder


@pytest.fixture
def report(tmp_path):
    path = tmp_path / "from-the-laboratory.csv"
    shutil.copy(EXAMPLES / "small/laboratory/AB-26-1187.csv", path)
    return path


def run(folder, file, *options, facts=FACTS):
    answers = [word for fact in facts for word in ("--answer", fact)]
    return main(["results", str(folder), str(file), *answers, *options])


def everything(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def assessed(folder, capsys):
    capsys.readouterr()
    main(["assess", str(folder), "--json", "-"])
    data = json.loads(capsys.readouterr().out)
    return {(s["sampler"], s["agent"]): s["concentration"] for s in data["samples"]}


def bare(concentrations):
    return {key: (c["value"], c["uncertainty"], c["sense"]) for key, c in concentrations.items()}


def test_open_questions_are_printed_with_how_to_answer_them_and_nothing_is_written(small, report, capsys):
    before = everything(small)
    assert run(small, report, "--accept", facts=()) == 2
    shown = capsys.readouterr()
    assert '--answer "recovery_corrected_by=laboratory"' in shown.out
    assert "Nothing was written" in shown.err
    assert everything(small) == before


def test_a_settled_report_is_not_written_without_accept(small, report, capsys):
    before = everything(small)
    assert run(small, report) == 0
    assert "--accept" in capsys.readouterr().err
    assert everything(small) == before


def test_an_accepted_report_gives_the_figures_of_the_hand_made_one(small, report, capsys):
    """The same file, mapped by hand in examples/small."""
    assert run(small, report, "--accept", "--by", "RQ", "--quiet") == 0
    assert bare(assessed(small, capsys)) == bare(assessed(EXAMPLES / "small", capsys))


def test_the_file_is_kept_as_it_came_with_its_hash_its_map_and_who_confirmed_it(small, report):
    run(small, report, "--accept", "--by", "R. Quillfeather", "--quiet")
    beside = small / "laboratory/as-delivered/AB-26-1187"
    assert (beside / report.name).read_bytes() == report.read_bytes()
    accepted = json.loads((beside / "accepted.json").read_text("utf-8"))
    assert accepted["confirmed_by"] == "R. Quillfeather"
    assert accepted["columns"][2]["role"] == "front"
    row = next(csv.DictReader((small / "laboratory/AB-26-1187.csv").read_text("utf-8").splitlines()))
    assert row["Read from"] == "from-the-laboratory.csv, row 2"
    assert "Front, ug: 1520" in row["As printed"]


def test_a_changed_original_is_a_fault_ever_after(small, report, capsys):
    run(small, report, "--accept", "--quiet")
    original = small / "laboratory/as-delivered/AB-26-1187" / report.name
    original.write_bytes(original.read_bytes().replace(b"1520", b"1250"))
    assert main(["assess", str(small), "--quiet"]) == 2
    assert "no longer the file" in capsys.readouterr().err


def test_the_next_report_of_a_laboratory_needs_only_its_own_facts(small, report, capsys):
    run(small, report, "--accept", "--quiet")
    again = small.parent / "next.csv"
    again.write_text(report.read_text("utf-8").replace("1520", "1530"), "utf-8")
    facts = ("report.code=AB-26-1190", "report.received_on=2026-05-06")
    capsys.readouterr()
    assert run(small, again, "--amends", "AB-26-1187", facts=facts) == 1
    shown = capsys.readouterr()
    assert "Read as earlier reports" in shown.err
    assert "L-101, styrene: front section, µg: 1520 → 1530" in shown.out


def test_an_amended_report_becomes_a_new_version_and_the_old_one_stays(small, report, capsys):
    run(small, report, "--accept", "--quiet")
    amended = small.parent / "amended.csv"
    amended.write_text(report.read_text("utf-8").replace("1520", "1530"), "utf-8")
    assert run(small, amended, "--accept", "--quiet") == 1
    beside = small / "laboratory/as-delivered/AB-26-1187"
    assert (beside / "version-1" / report.name).read_bytes() == report.read_bytes()
    assert (beside / "amended.csv").read_bytes() == amended.read_bytes()
    accepted = json.loads((beside / "accepted.json").read_text("utf-8"))
    assert accepted["version"] == 2
    assert [change["after"] for change in accepted["changes"]] == ["1530"]
    survey = read_survey(small)
    assert [row.front_ug for row in survey.results if row.sampler == "L-101"] == [1530.0]
    third = small.parent / "third.csv"
    third.write_text(report.read_text("utf-8").replace("1520", "1540"), "utf-8")
    assert run(small, third, "--accept", "--quiet") == 1
    assert (beside / "version-2" / "amended.csv").read_bytes() == amended.read_bytes()


def test_a_hand_mapped_report_can_be_amended(tmp_path):
    folder = tmp_path / "small"
    shutil.copytree(EXAMPLES / "small", folder)
    amended = tmp_path / "amended.csv"
    amended.write_text((folder / "laboratory/AB-26-1187.csv").read_text("utf-8").replace("1520", "1530"), "utf-8")
    assert run(folder, amended, "--accept", "--quiet") == 1
    kept = folder / "laboratory/as-delivered/AB-26-1187/version-1"
    assert {path.name for path in kept.iterdir()} == {"AB-26-1187.csv", "AB-26-1187.toml", "earlier.json"}
    first = hashlib.sha256((EXAMPLES / "small/laboratory/AB-26-1187.csv").read_bytes()).hexdigest()
    assert first in (kept / "earlier.json").read_text("utf-8")
    assert [row.front_ug for row in read_survey(folder).results if row.sampler == "L-101"] == [1530.0]


def test_nothing_is_half_written_when_the_disk_gives_out(small, report, monkeypatch):
    before = everything(small)
    real = Path.rename

    def fails(self, target):
        if self.name == "laboratory" and ".results-" in str(self):
            raise OSError(28, "No space left on device")
        return real(self, target)

    monkeypatch.setattr(Path, "rename", fails)
    assert run(small, report, "--accept", "--quiet") == 2
    assert everything(small) == before


def test_a_near_name_is_confirmed_by_a_person(small, report, capsys):
    report.write_text(report.read_text("utf-8").replace("L-101", "L 101"), "utf-8")
    assert run(small, report, "--accept", "--quiet") == 2
    assert run(small, report, "--confirm-near", "--quiet") == 0
    assert "is L-101" in capsys.readouterr().err
    assert run(small, report, "--answer", "report.samplers.L 101=L-101", "--accept", "--quiet") == 0
    assert "L-101" in {row.sampler for row in read_survey(small).results}


def test_the_day_of_the_assessment_is_not_moved_silently(small, report, capsys):
    facts = [fact if "received_on=2026-05" not in fact else "report.received_on=2026-06-30" for fact in FACTS]
    before = everything(small)
    assert run(small, report, "--accept", "--quiet", facts=facts) == 2
    assert "assessed_on" in capsys.readouterr().err
    assert everything(small) == before


def test_the_letter_and_the_open_data(small, report, tmp_path, capsys):
    report.write_text(report.read_text("utf-8").replace("11.52", "0.01152"), "utf-8")
    letter, data = tmp_path / "letter.txt", tmp_path / "data.json"
    assert run(small, report, "--letter", str(letter), "--json", str(data), "--quiet") == 1
    assert "factor of 1,000" in letter.read_text("utf-8")
    said = json.loads(data.read_text("utf-8"))
    assert said["settled"] is True
    assert said["results"][0]["front_ug"] == 1520.0
    assert said["tables"][0]["columns"][2]["cells"][0].endswith(": 1520")
    assert [matter["kind"] for matter in said["matters"]] == ["volume"]
    assert said["standings"]


def test_a_map_can_be_written_filled_in_and_read(small, report, tmp_path):
    path = tmp_path / "map.json"
    assert run(small, report, "--write-map", str(path), "--quiet") == 0
    assert run(small, report, "--map", str(path), "--quiet", facts=()) == 0
    path.write_text('{"format": "lapel laboratory map 1", "decimal_mark": "semicolon"}', "utf-8")
    assert run(small, report, "--map", str(path), "--quiet", facts=()) == 2


@pytest.mark.parametrize("answer", ["nonsense", "no_such_key=1", "decimal_mark=semicolon"])
def test_an_answer_that_is_none_is_told(small, report, capsys, answer):
    assert run(small, report, "--answer", answer, "--quiet") == 2
    assert "do:" in capsys.readouterr().err


def test_a_hostile_file_is_refused_with_a_sentence(small, tmp_path, capsys):
    path = tmp_path / "report.xlsm"
    openpyxl.Workbook().save(path)
    assert run(small, path, "--quiet") == 2
    assert "macros" in capsys.readouterr().err


def test_one_heading_over_several_columns_is_remembered_without_the_agent_of_the_first(small):
    """“RL” stands right of each agent: what is remembered must not give all limits to one of them."""
    text = (
        "Sample,Styrene (ug),RL (ug),Acetone (ug),RL (ug)\nL-101,1520,5,<10,10\nL-102,808,5,<10,10\nL-103,<5,5,422,10\n"
    )
    path = small.parent / "wide.csv"
    path.write_text(text, "utf-8")
    assert run(small, path, "--accept", "--quiet", "--reconcile-only") == 1
    again = small.parent / "again.csv"
    again.write_text(text, "utf-8")
    assert run(small, again, "--accept", "--quiet", "--reconcile-only", facts=FACTS[:1] + FACTS[2:3]) == 1
    limits = {(row.agent, row.reporting_limit_ug) for row in read_survey(small).results}
    assert limits == {("styrene", 5.0), ("acetone", 10.0)}


HARD = (
    ("GA-4821", "GA-4821.xlsx", ("recovery_corrected_by=laboratory", "blank_corrected_by=nobody")),
    ("GA-4822", "GA-4822.csv", ("recovery_corrected_by=nobody", "blank_corrected_by=nobody", "agents.Butanone=mek",
                                "units.uncertainty=1")),
    ("GA-4823", "GA-4823.csv", ("recovery_corrected_by=laboratory", "blank_corrected_by=laboratory")),
)  # fmt: skip
OF_ALL = (
    "laboratory=Greyfell Analytical (invented)", "report.received_on=2026-11-16",
    "report.samples_received_on=2026-11-03", "report.receipt_temperature=6", "report.receipt_temperature_unit=°C",
)  # fmt: skip


def as_reported(survey):
    return {
        (r.sampler, r.agent): (r.front_ug, r.front_below, r.back_ug, r.back_below, r.reporting_limit_ug, r.recovery,
                               r.relative_u, r.volume_l, r.medium, r.analysed_on)
        for r in survey.results
    }  # fmt: skip


def test_the_hard_example_read_again_gives_its_results(tmp_path):
    """Three layouts: a workbook with agents side by side, decimal commas in mg, one-section cartridges."""
    folder = tmp_path / "hard"
    shutil.copytree(EXAMPLES / "hard", folder)
    shutil.rmtree(folder / "laboratory")
    for code, file, answers in HARD:
        facts = [f"report.code={code}", *OF_ALL, *answers]
        assert run(folder, EXAMPLES / "hard/laboratory" / file, "--accept", "--quiet", facts=facts) in (0, 1)
    assert as_reported(read_survey(folder)) == as_reported(read_survey(EXAMPLES / "hard"))
