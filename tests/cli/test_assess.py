"""`lapel assess` and `lapel show-working`: what is printed, written and answered."""

import json
import shutil
from pathlib import Path

import pytest

from lapel.cli.main import main

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def small_json(tmp_path_factory):
    target = tmp_path_factory.mktemp("out") / "small.json"
    code = main(["assess", str(EXAMPLES / "small"), "--quiet", "--json", str(target)])
    return code, json.loads(target.read_text(encoding="utf-8"))


def test_a_clean_survey_without_findings_answers_0(capsys):
    code = main(["assess", str(EXAMPLES / "small")])
    page = capsys.readouterr().out
    assert code == 0
    assert "3 samples: 3 sound, 0 qualified, 0 void." in page
    assert "confirm each with its authority" in page


def test_a_survey_with_findings_answers_1_and_says_them_all(capsys):
    code = main(["assess", str(EXAMPLES / "hard"), "--all"])
    page = capsys.readouterr().out
    assert code == 1
    for words in ("G-107", "OVER", "cannot tell", "Would settle it:", "Flow before and after", "Back section"):
        assert words in page


def test_every_limit_shown_has_its_day_and_the_advice_to_confirm(capsys, small_json):
    main(["assess", str(EXAMPLES / "small")])
    assert "Limits as of 2026-04-14 (US-OSHA, US-NIOSH): confirm each with its authority" in capsys.readouterr().out
    main(["show-working", str(EXAMPLES / "small"), "L-101"])
    page = " ".join(capsys.readouterr().out.split())
    assert "against 100 ppm (US-OSHA TWA): With 95 % confidence" in page
    assert "Limits as of 2026-04-14 (US-OSHA, US-NIOSH): confirm each with its authority" in page
    _, data = small_json
    assert data["caution"].endswith("confirm with the authority before acting on a result")
    verdicts = [verdict for shift in data["shifts"] for verdict in shift["verdicts"]]
    assert {verdict["limit_as_of"] for verdict in verdicts} == {"2026-04-14"}


def test_limits_of_several_days_and_of_none_are_named_apart(capsys, tmp_path):
    folder = shutil.copytree(EXAMPLES / "small", tmp_path / "survey")
    limits = (folder / "limits.csv").read_text(encoding="utf-8").replace("2026-04-14", "2025-01-31", 1)
    limits += "acetone,House,TWA,120,ppm,480,works rule,,no,\n"
    (folder / "limits.csv").write_text(limits, encoding="utf-8")
    main(["assess", str(folder)])
    page = " ".join(capsys.readouterr().out.split())
    assert "Limits as of 2025-01-31 (US-OSHA TWA for Styrene); 2026-04-14 (US-NIOSH, US-OSHA TWA for Acetone)" in page
    assert "; no stated day (House): confirm each" in page


def test_the_working_of_a_short_sample_says_what_it_was_held_against(capsys):
    main(["show-working", str(EXAMPLES / "hard"), "G-115"])
    page = " ".join(capsys.readouterr().out.split())
    assert "Used in a short-term comparison against 2 ppm (US-OSHA STEL): The exposure lies between" in page
    assert "Used in shift" not in page


def test_open_data_holds_unrounded_numbers_with_unit_and_sense(small_json):
    _, data = small_json
    first = data["samples"][0]
    assert first["sampler"] == "L-101"
    assert first["concentration"]["unit"] == "mg/m3"
    assert first["concentration"]["value"] == pytest.approx(1520 / (0.04985 * 231), rel=1e-12)
    assert len(repr(first["concentration"]["value"])) > 10
    assert sum(row["share"] for row in first["concentration"]["budget"]) == pytest.approx(1.0)
    assert data["format"] == "lapel-assessment"
    assert len(data["input_sha256"]) == 64


def test_open_data_on_standard_output_is_nothing_but_json(capsys):
    main(["assess", str(EXAMPLES / "small"), "--json", "-"])
    assert json.loads(capsys.readouterr().out)["survey"].startswith("Styrene")


def test_another_rule_book_decides_when_asked(capsys):
    main(["assess", str(EXAMPLES / "small"), "--quiet", "--json", "-", "--rules", "en-iso"])
    assert json.loads(capsys.readouterr().out)["rule_book"]["key"] == "en-iso"


def test_an_unknown_rule_book_is_said_and_nothing_is_written(capsys, tmp_path):
    target = tmp_path / "out.json"
    code = main(["assess", str(EXAMPLES / "small"), "--json", str(target), "--rules", "moon"])
    said = capsys.readouterr().err
    assert code == 2
    assert "moon" in said
    assert "us-osha" in said
    assert not target.exists()


def test_a_faulty_folder_says_every_fault_and_writes_nothing(capsys, tmp_path):
    folder = shutil.copytree(EXAMPLES / "small", tmp_path / "survey")
    methods = folder / "methods.csv"
    methods.write_text(methods.read_text(encoding="utf-8").replace(",10,200,", ",ten,200,"), encoding="utf-8")
    samples = folder / "samples.csv"
    samples.write_text(samples.read_text(encoding="utf-8").replace("S-1", "S-9"), encoding="utf-8")
    target = tmp_path / "out.json"
    code = main(["assess", str(folder), "--json", str(target), "--pdf", str(tmp_path / "out.pdf")])
    told = capsys.readouterr()
    assert code == 2
    assert told.out == ""
    assert "methods.csv, row 2" in told.err
    assert "samples.csv, row 2" in told.err
    assert "Nothing was computed and nothing was written." in told.err
    assert list(tmp_path.iterdir()) == [folder]


@pytest.mark.parametrize("missing", ["nowhere", "README.md"])
def test_what_is_no_folder_is_said(capsys, tmp_path, missing):
    (tmp_path / "README.md").write_text("x\n")
    assert main(["assess", str(tmp_path / missing)]) == 2
    assert "found:" in capsys.readouterr().err


def test_a_place_that_cannot_be_written_is_said(capsys, tmp_path):
    code = main(["assess", str(EXAMPLES / "small"), "--quiet", "--json", str(tmp_path / "no" / "such" / "out.json")])
    assert code == 2
    assert "could not be written" in capsys.readouterr().err


def test_the_working_of_a_sample_names_every_reading_and_source(capsys):
    assert main(["show-working", str(EXAMPLES / "small"), "L-101"]) == 0
    page = capsys.readouterr().out
    for words in ("V = Q·t", "C = (m − b) / (r·V)", "flow_read-row-3", "report AB-26-1187", "share of the variance"):
        assert words in page


def test_the_working_of_an_unknown_sample_names_those_there_are(capsys):
    assert main(["show-working", str(EXAMPLES / "small"), "L-999"]) == 2
    assert "L-101" in capsys.readouterr().err
