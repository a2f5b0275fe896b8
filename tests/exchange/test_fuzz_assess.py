"""
`lapel assess` on damaged and extreme folders: an answer of 0, 1 or 2, strict JSON, never a traceback, never a silent
wrong number.
"""

import json
import random
import shutil
import warnings
from decimal import Decimal
from pathlib import Path

import pytest
from copied import EXAMPLES
from extremes import EXTREMES
from mutations import MUTATIONS, load, save

from lapel.cli.main import main

SEEDS = {"small": range(4), "hard": range(4, 6)}


def refused_constant(word):
    raise AssertionError(f"{word} is no number of strict JSON")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    root = tmp_path_factory.mktemp("folder")

    def fresh(example):
        shutil.rmtree(root / example, ignore_errors=True)
        return Path(shutil.copytree(EXAMPLES / example, root / example))

    return fresh


def assessed(root, capsys, *more):
    """Code and data of one run, everything that must hold of any run checked on the way."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        code = main(["assess", str(root), "--json", "-", *more])
    told = capsys.readouterr()
    assert code in (0, 1, 2)
    if code == 2:
        assert told.out == ""
        assert "Nothing was computed and nothing was written." in told.err
        return code, None
    assert told.err == ""
    return code, json.loads(told.out, parse_constant=refused_constant)


def printed(root, capsys):
    """What the terminal shows, tables of every width included."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert main(["assess", str(root), "--all"]) in (0, 1)
    return capsys.readouterr().out


@pytest.mark.parametrize("change", [*MUTATIONS, *EXTREMES], ids=lambda change: change.__name__)
@pytest.mark.parametrize("example", SEEDS)
def test_any_folder_is_assessed_or_refused(folder, capsys, monkeypatch, example, change):
    for seed in SEEDS[example]:
        root = folder(example)
        dice = random.Random(f"{change.__name__} {seed}")
        if change(root, dice) is None:
            continue
        code, data = assessed(root, capsys)
        if data is None:
            continue
        assert_possible(data, code)
        if seed == SEEDS[example][0]:
            monkeypatch.setenv("COLUMNS", str(dice.choice([60, 80, 120, 200])))
            assert "confirm each with its authority" in " ".join(printed(root, capsys).split())


@pytest.mark.parametrize("seed", range(12))
def test_several_changes_at_once(folder, capsys, seed):
    root, dice = folder("small"), random.Random(f"several {seed}")
    for change in dice.sample(EXTREMES, 3):
        try:
            change(root, dice)
        except (FileNotFoundError, ValueError, IndexError):
            continue  # the change before took away what this one changes
    code, data = assessed(root, capsys)
    if data is not None:
        assert_possible(data, code)


def assert_possible(data, code):
    """What no assessment may say, whatever the folder."""
    for sample in data["samples"]:
        for name in ("volume", "mass", "concentration", "ppm"):
            figure = sample[name]
            assert figure is None or (figure["value"] >= 0.0 and figure["uncertainty"] >= 0.0), (name, figure)
        if sample["concentration"] is not None:
            assert sample["concentration"]["value"] == pytest.approx(
                sample["mass"]["value"] / sample["volume"]["value"], rel=1e-9
            )
            assert sample["mass"]["value"] > 0.0 or sample["concentration"]["sense"] != "exactly", "sure of nothing"
        if sample["mass"] is not None and sample["mass"]["sense"] == "at most" and sample["concentration"] is not None:
            assert sample["concentration"]["sense"] in ("at most", "unknown"), "a bound became an estimate"
    voids = {
        (s["sampler"], s["agent"])
        for s in data["samples"]
        if s["standings"][data["rule_book"]["key"]]["level"] == "void"
    }
    for shift in data["shifts"]:
        assert not {(code, shift["agent"]) for code in shift["samples"]} & voids, "a void sample was averaged"
        assert shift["verdicts"] or shift["note"], "silence would read as under"
    for judged in (*data["shifts"], *data["short_terms"]):
        for verdict in judged["verdicts"]:
            assert verdict["limit"]["value"] > 0.0
            assert verdict["ratio_high"] is None or verdict["ratio_low"] <= verdict["ratio_high"] * (1 + 1e-9)
            if verdict["verdict"] == "under":
                assert verdict["ucl"] is not None
                assert verdict["ucl"] <= 1.0
            if verdict["verdict"] == "over":
                assert verdict["lcl"] > 1.0
            assert verdict["reason"]
            assert verdict["verdict"] != "cannot tell" or verdict["settled_by"]
    for mixture in data["mixtures"]:
        assert not (mixture["missing"] and mixture["verdict"] == "under"), "a sum without one of its parts is no proof"
    open_or_over = any(
        verdict["verdict"] != "under"
        for judged in (*data["shifts"], *data["short_terms"])
        for verdict in judged["verdicts"]
    )
    assert code == 1 or not (open_or_over or data["notes"] or data["conflicts"] or data["unusable_entries"])


def figures(data):
    """Everything that was computed, sample by sample and shift by shift."""
    samples = {
        (s["sampler"], s["agent"]): {
            key: s[key] for key in ("segments", "volume", "mass", "blank", "concentration", "ppm")
        }
        for s in data["samples"]
    }
    shifts = {
        (s["shift"], s["agent"]): [
            (v["authority"], v["kind"], v["verdict"], v["ratio_low"], v["ratio_high"], v["lcl"], v["ucl"])
            for v in s["verdicts"]
        ]
        for s in data["shifts"]
    }
    return samples, shifts


def changed(before, after):
    return {key for key in before.keys() | after.keys() if before.get(key) != after.get(key)}


@pytest.fixture(scope="module")
def untouched(folder):
    from io import StringIO

    from lapel.assessment.survey import assess
    from lapel.exchange import read_survey
    from lapel.exchange.assessment_json import write_assessment_json

    stream = StringIO()
    write_assessment_json(assess(read_survey(EXAMPLES / "hard")), stream)
    return figures(json.loads(stream.getvalue()))


def table_cell(root, name, found, column, text):
    rows = load(root, name)
    index = rows[0].index(column)
    hits = [row for row in rows[1:] if found(dict(zip(rows[0], row, strict=True)))]
    assert hits
    for row in hits:
        row[index] = text
    save(root, name, rows)


CAREFUL = [
    (
        "a mass",
        lambda root: table_cell(
            root,
            "laboratory/GA-4823.csv",
            lambda r: r["Cartridge"] == "G-113" and r["Analyte"] == "Formaldehyde",
            "Mass, ug",
            "7.95",
        ),
        {("G-113", "formaldehyde")},
        {("S-05", "formaldehyde")},
    ),
    (
        "a flow of one port",
        lambda root: table_cell(
            root,
            "log/flow_read.csv",
            lambda r: (r["train"], r["port"], r["phase"]) == ("T-101", "C", "closing"),
            "reading",
            "31.1",
        ),
        {("G-103", "formaldehyde")},
        {("S-01", "formaldehyde")},
    ),
    (
        "a stop",
        lambda root: table_cell(
            root, "log/pump_stopped.csv", lambda r: r["train"] == "T-204", "at", "2026-10-30T13:41"
        ),
        {("G-119", "toluene"), ("G-119", "n-hexane"), ("G-119", "benzene"), ("G-120", "mek")},
        {("S-07", "toluene"), ("S-07", "n-hexane"), ("S-07", "benzene"), ("S-07", "mek")},
    ),
    (
        "a limit",
        lambda root: table_cell(
            root,
            "limits.csv",
            lambda r: (r["agent"], r["authority"], r["kind"]) == ("mek", "US-OSHA", "TWA"),
            "value",
            "150",
        ),
        set(),
        {(shift, "mek") for shift in ("S-01", "S-04", "S-05", "S-07", "S-08")},
    ),
    (
        "a molar mass",
        lambda root: table_cell(root, "agents.csv", lambda r: r["key"] == "benzene", "molar_mass", "79"),
        {(f"G-{n}", "benzene") for n in (101, 104, 106, 108, 109, 111, 116, 119, 121)},
        {(f"S-0{n}", "benzene") for n in (1, 2, 3, 4, 5, 6, 7, 8)},
    ),
    (
        "a blank of one lot",
        lambda root: table_cell(
            root,
            "laboratory/GA-4822.csv",
            lambda r: r["Tube"] == "G-153",
            "Front (mg)",
            "0,009",
        ),
        {(f"G-{n}", "mek") for n in (102, 105, 110, 112, 120, 122)},
        {(shift, "mek") for shift in ("S-01", "S-04", "S-05", "S-07", "S-08")},
    ),
    (
        "the end of a shift",
        lambda root: table_cell(root, "shifts.csv", lambda r: r["code"] == "S-04", "end", "2026-10-29T13:30"),
        set(),
        {("S-04", agent) for agent in ("toluene", "n-hexane", "benzene", "mek")},
    ),
]


@pytest.mark.parametrize(("change", "samples", "shifts"), [row[1:] for row in CAREFUL], ids=[row[0] for row in CAREFUL])
def test_a_changed_input_changes_what_depends_on_it_and_nothing_else(
    folder, capsys, untouched, change, samples, shifts
):
    root = folder("hard")
    change(root)
    _, data = assessed(root, capsys)
    assert data is not None, "the changed folder is still good"
    after = figures(data)
    assert changed(untouched[0], after[0]) == samples
    assert changed(untouched[1], after[1]) == shifts


def converted(change):
    """Every row of the flow readings with one number and its unit as `change` has them."""

    def apply(root):
        rows = load(root, "log/flow_read.csv")
        head = rows[0]
        for row in rows[1:]:
            cells = dict(zip(head, row, strict=True))
            cells |= change(cells)
            row[:] = [cells[column] for column in head]
        save(root, "log/flow_read.csv", rows)

    return apply


@pytest.mark.parametrize(
    "change",
    [
        lambda c: (
            {} if c["id"] else {"reading": str(Decimal(c["reading"]) / 1000), "unit": "L/min"}
        ),  # one is corrected
        lambda c: {"temperature": str(Decimal(c["temperature"]) + Decimal("273.15")), "temperature_unit": "K"},
        lambda c: {"pressure": str(Decimal(c["pressure"]) * 10), "pressure_unit": "hPa"},
    ],
    ids=["L/min", "K", "hPa"],
)
def test_the_same_reading_in_another_unit_is_the_same_figure(folder, capsys, untouched, change):
    root = folder("hard")
    converted(change)(root)
    _, data = assessed(root, capsys)
    assert data is not None
    assert figures(data) == untouched
