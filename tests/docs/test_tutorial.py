"""The tutorial's tables, typed as it says, give what it says."""

import json
import re
from pathlib import Path

import pytest

from lapel.cli.main import main

PAGE = Path(__file__).parents[2] / "docs" / "tutorial" / "first-survey.md"


def typed(folder):
    """Write every file the page names, in the order in which its blocks follow."""
    names, written = [], []
    text = PAGE.read_text(encoding="utf-8")
    for match in re.finditer(r"\*\*`([^`]+)`\*\*|```(?:csv|toml)\n(.*?)```", text, re.S):
        if match[1]:
            names.append(match[1])
        else:
            path = folder / names.pop(0)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(match[2], encoding="utf-8")
            written.append(path)
    assert names == []
    return written


@pytest.fixture
def first(tmp_path):
    folder = tmp_path / "first"
    folder.mkdir()
    assert len(typed(folder)) > 25
    return folder


def test_the_first_survey_comes_out_as_the_page_says(first, capsys):
    code = main(["assess", str(first), "--json", "-"])
    data = json.loads(capsys.readouterr().out)
    (sample,) = data["samples"]
    assert sample["volume"]["value"] == pytest.approx(18.9, abs=0.05)
    assert sample["concentration"]["value"] == pytest.approx(64, abs=0.5)
    assert [v["verdict"] for v in data["shifts"][0]["verdicts"]] == ["under"]
    findings = [f["title"] for s in sample["standings"].values() for f in s["findings"] if f["effect"] != "remark"]
    assert findings == []
    assert code in (0, 1)


def test_spoiling_the_reading_afterwards_voids_it(first, capsys):
    reads = first / "log" / "flow_read.csv"
    reads.write_text(re.sub(r"39\.\d", "35.0", reads.read_text(encoding="utf-8")), encoding="utf-8")
    main(["assess", str(first), "--json", "-"])
    (sample,) = json.loads(capsys.readouterr().out)["samples"]
    assert sample["standings"]["practice"]["level"] == "void"
    assert sample["segments"][0]["flow_change"] == pytest.approx(35.0 / (120.5 / 3) - 1, abs=1e-9)
