"""`lapel plan`: windows by hand, the draw by its own rule, what cannot be done, and plans edited by hand."""

import csv
import hashlib
import json
import math
import re
import shutil
from itertools import pairwise
from pathlib import Path

import pytest
from scipy.stats import nct, norm

from lapel.assessment.plan_windows import windows_of
from lapel.cli.main import main
from lapel.exchange.plan_folder.reader import read_plan

EXAMPLE = Path(__file__).parents[2] / "examples" / "plan"
PPM_25C = 24.45


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    assert main(["plan", str(EXAMPLE), "--quiet", "--json", str(path)]) == 0
    return json.loads(path.read_text(encoding="utf-8"))


@pytest.fixture
def folder(tmp_path):
    copy = tmp_path / "survey"
    shutil.copytree(EXAMPLE, copy)
    return copy


@pytest.fixture
def hand(tmp_path):
    path = tmp_path / "hand.csv"
    assert main(["plan", str(EXAMPLE), "--quiet", "--write-hand", str(path)]) == 0
    return path


def planned(folder, tmp_path, *more):
    path = tmp_path / "out.json"
    code = main(["plan", str(folder), "--quiet", "--json", str(path), *more])
    return code, json.loads(path.read_text(encoding="utf-8"))


def rows_of(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def edit(path, change):
    rows = rows_of(path)
    change(rows)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def test_the_window_of_toluene_is_the_one_worked_by_hand(plan):
    """
    100 ppm of 92.141 g/mol; 5 ug in a tenth of it; two thirds of 12 L breakthrough, 2 K warmer, 40 mg/m3 beside.

    V_low = 5 / (0.1 x 376.9) = 0.13 L, below the method's 1 L; V_high = 8 x 0.5^0.2 x 753.7/793.7. Hung 24 min before
    the shift of 480 min and stopped after a change of 3 min that is under way: 507 min.
    """
    limit = 100 * 92.141 / PPM_25C
    window = next(w for w in plan["windows"] if w["question"] == "Q1")
    high = 8 * 0.5**0.2 * 2 * limit / (2 * limit + 40)
    assert window["limits"][0]["mg_m3"] == pytest.approx(limit, rel=1e-3)
    assert window["volume_low_l"] == 1.0
    assert window["volume_high_l"] == pytest.approx(high, rel=1e-3)
    assert window["runs"][0]["samplers"] == 1
    assert window["runs"][0]["flow_high_lpm"] == pytest.approx(high / 507, rel=1e-3)


def test_the_window_of_formaldehyde_rests_on_the_laboratorys_own_reporting_limit(plan):
    """0.75 ppm of 30.026 g/mol and 0.2 ug instead of 0.3: 0.2 / (0.1 x 0.921) = 2.17 L."""
    window = next(w for w in plan["windows"] if w["question"] == "Q3")
    assert window["volume_low_l"] == pytest.approx(0.2 / (0.1 * 0.75 * 30.026 / PPM_25C), rel=1e-3)


def test_humid_air_halves_what_charcoal_may_see_unless_it_was_tested_so(folder):
    """Above 60 %: xylene on charcoal; toluene's breakthrough was measured at 80 %; DNPH silica is no charcoal."""
    terms = folder / "plan" / "plan.toml"

    def most(humidity):
        words = terms.read_text(encoding="utf-8")
        terms.write_text(re.sub(r"humidity_percent = \d+", f"humidity_percent = {humidity}", words), encoding="utf-8")
        return {window.question.code: window.window.volume_high.litres for window in windows_of(read_plan(folder))}

    dry, tested, beyond = most(55), most(80), most(85)
    assert [tested[q] / dry[q] for q in ("Q1", "Q2", "Q3")] == pytest.approx([1, 0.5, 1], rel=1e-12)
    assert beyond["Q1"] / dry["Q1"] == pytest.approx(0.5, rel=1e-12)


def test_the_number_of_results_is_the_smallest_with_the_wanted_power(plan):
    """U_T = k(0.70; 0.95): the chance that GM GSD^k < L, by the noncentral t of the log scale, n from 6."""

    def power(n):
        factor = nct.ppf(0.70, n - 1, norm.ppf(0.95) * math.sqrt(n)) / math.sqrt(n)
        shift = math.sqrt(n) * math.log(1 / 0.1) / math.log(2.2)
        return nct.sf(factor * math.sqrt(n), n - 1, shift)

    question = next(q for q in plan["questions"] if q["question"] == "Q1")
    assert question["results"] == next(n for n in range(6, 40) if power(n) >= 0.80)
    for point in question["power"]:
        assert point["chance"] == pytest.approx(power(point["results"]), abs=1e-6)


def test_the_draw_can_be_repeated_by_anyone_from_the_seed(plan):
    codes = [row["code"] for row in rows_of(EXAMPLE / "workers.csv") if row["group"] == "PRI"]
    seed = f"{plan['seed']}:PRI"
    order = sorted(codes, key=lambda code: hashlib.sha256(f"{seed}:{code}".encode()).digest())
    question = next(q for q in plan["questions"] if q["question"] == "Q5")
    assert question["drawn"]["workers"] == order[:6]
    assert question["drawn"]["reserves"] == order[6:]
    assert question["drawn"]["seed"] == seed


def test_the_plan_gives_everything_that_is_wanted_with_what_there_is(plan):
    kinds = {kind["code"]: kind for kind in plan["kinds"]}
    got = {}
    worn = {}
    for train in plan["trains"]:
        for port in train["ports"]:
            kind = kinds[port["kind"]]
            assert kind["volume_low_l"] * 0.999 <= port["volume_each_l"] <= kind["volume_high_l"] * 1.001
            assert port["volume_each_l"] == pytest.approx(
                port["flow_lpm"] * kind["minutes"] / kind["samplers_in_a_row"]
            )
            for agent in kind["agents"]:
                got.setdefault((train["worker"], agent, kind["purpose"]), set()).add(train["day"])
        for thing in (train["pump"], train["splitter"]):
            if thing:
                worn.setdefault((train["day"], thing), []).append(train["code"])
    assert all(len(trains) == 1 for trains in worn.values())
    questions = {row["code"]: row for row in rows_of(EXAMPLE / "plan" / "wanted.csv")}
    for question in plan["questions"]:
        row = questions[question["question"]]
        purpose = row["purpose"] + (f": {row['task']}" if row["task"] else "")
        for worker, days in question["days_wanted"].items():
            assert len(got[worker, row["agent"], purpose]) >= days
    certified = {row["code"] for row in rows_of(EXAMPLE / "equipment" / "pumps.csv") if row["area_certificate"]}
    assert {train["pump"] for train in plan["trains"] if train["worker"] == "P-08"} <= certified
    assert all(goal["proven"] for goal in plan["goals"])


def test_every_sampler_has_a_code_of_its_own_and_blanks_stand_among_them(plan):
    codes = [sampler["code"] for sampler in plan["samplers"]]
    assert len(set(codes)) == len(codes)
    uses = [sampler["use"] for sampler in plan["samplers"] if sampler["day"] == "2026-06-08"]
    assert "field blank" in uses[:-1]
    for medium in {blank["medium"] for blank in plan["blanks"]}:
        mine = [blank for blank in plan["blanks"] if blank["medium"] == medium]
        assert sum(blank["blanks"] for blank in mine) >= 2  # methods.csv: at least 2, a tenth of the samples
        assert all(blank["blanks"] >= 1 for blank in mine)  # one a day for each medium and lot


def test_blanks_follow_the_strictest_share_of_the_methods_on_the_medium(folder, tmp_path):
    """17 charcoal samples: a quarter for xylene's method and a tenth for toluene's make ceil(17 / 4) = 5 blanks."""
    edit(
        folder / "methods.csv",
        lambda rows: [row.update(blanks_share_percent="25") for row in rows if row["code"] == "1501-xylene"],
    )
    _, data = planned(folder, tmp_path)
    counted = {line["medium"]: (line["samples"], line["blanks"]) for line in data["kit"]}
    assert counted["charcoal 100/50"] == (17, 5)
    assert counted["beaded carbon 160/80"] == (6, 2)


def duplicates_by_medium(folder, tmp_path, **rule):
    edit(
        folder / "methods.csv",
        lambda rows: (
            [row.update({"duplicates_min": "", "duplicates_share_percent": ""}) for row in rows]
            + [row.update(rule) for row in rows if row["code"] == "1501-xylene"]
        ),
    )
    _, data = planned(folder, tmp_path)
    on_xylene = {kind["code"] for kind in data["kinds"] if "1501-xylene" in kind["methods"]}
    worn = [port["kind"] for train in data["trains"] for port in train["ports"]]
    counted = {line["medium"]: line["duplicates"] for line in data["kit"]}
    by_use = [sampler["medium"] for sampler in data["samplers"] if sampler["use"] == "duplicate"]
    assert {medium: by_use.count(medium) for medium in counted} == counted
    return sum(kind in on_xylene for kind in worn), counted


def test_without_a_methods_rule_duplicates_are_the_plans_share(folder, tmp_path):
    """5 % of 17, 6 and some more: one of each medium."""
    _, counted = duplicates_by_medium(folder, tmp_path)
    assert set(counted.values()) == {1}


@pytest.mark.parametrize(
    ("rule", "wanted"),
    [
        ({"duplicates_share_percent": "40"}, lambda samples: math.ceil(0.4 * samples)),
        ({"duplicates_min": "3", "duplicates_share_percent": "5"}, lambda samples: 3),
        ({"duplicates_min": "99"}, lambda samples: samples),
    ],
)
def test_a_method_sets_the_duplicates_of_its_own_samples(folder, tmp_path, rule, wanted):
    """The other samples of the medium keep the plan's 5 %: one of the eleven or so by toluene's method alone."""
    samples, counted = duplicates_by_medium(folder, tmp_path, **rule)
    assert 3 < samples < 17
    assert counted["charcoal 100/50"] == wanted(samples) + 1
    assert counted["beaded carbon 160/80"] == 1


def test_a_method_that_wants_no_duplicates_has_none(folder, tmp_path):
    edit(
        folder / "methods.csv",
        lambda rows: [row.update(duplicates_share_percent="0") for row in rows],
    )
    _, data = planned(folder, tmp_path)
    assert all(line["duplicates"] == 0 for line in data["kit"])


def test_a_technician_does_one_thing_at_a_time(plan):
    for day in plan["days"]:
        for technician in ("TA", "TB"):
            acts = [a for a in plan["time_table"] if (a["day"], a["technician"]) == (day, technician)]
            for one, other in pairwise(acts):
                assert one["begins_min"] + one["minutes"] <= other["begins_min"]


def test_no_lot_is_taken_that_expires_before_the_last_day(plan):
    assert all(sampler["lot"] != "CH-7714" for sampler in plan["samplers"])
    assert any("CH-7714 expires" in words for words in plan["cautions"])


def test_of_lots_that_keep_the_one_that_expires_first_is_taken(folder, tmp_path):
    media = folder / "media.csv"
    media.write_text(
        media.read_text(encoding="utf-8") + "CH-8301,charcoal 100/50,2027-01-31,charcoal,T-100-50\n", encoding="utf-8"
    )
    _, data = planned(folder, tmp_path)
    assert {s["lot"] for s in data["samplers"] if s["medium"] == "charcoal 100/50"} == {"CH-8301"}


def test_what_cannot_be_done_is_said_with_what_to_relax(folder, tmp_path, capsys):
    """Three pumps, one day: 27 samples cannot hang."""
    pumps = folder / "equipment" / "pumps.csv"
    edit(pumps, lambda rows: rows.__delitem__(slice(3, 9)))
    days = folder / "plan" / "days.csv"
    edit(days, lambda rows: [rows.remove(row) for row in list(rows) if not row["start"].startswith("2026-06-09")])
    for name in ("plan/workers.csv", "plan/technicians.csv"):
        path = folder / name
        path.write_text(
            path.read_text(encoding="utf-8").replace("2026-06-12", "").replace("2026-06-09; 2026-06-10", "").replace(
                "2026-06-08", ""
            ),
            encoding="utf-8",
        )  # fmt: skip
    code, data = planned(folder, tmp_path)
    assert code == 1
    assert data["missing"]
    assert data["faults"] == []
    assert main(["plan", str(folder)]) == 1
    text = capsys.readouterr().out
    assert "What cannot be done, and what to relax" in text
    for words in data["advice"]:
        assert words.split()[0] in text


def test_a_window_that_is_empty_says_what_to_ask_the_laboratory(folder, tmp_path):
    """Reporting limit 400 ug: 400 / (0.1 x 0.921 mg/m3) = 4343 L, and a tube may see 24 L less its margin."""
    laboratory = folder / "plan" / "laboratory.csv"
    laboratory.write_text(laboratory.read_text(encoding="utf-8").replace("55,0.2,ug", "55,400,ug"), encoding="utf-8")
    code, data = planned(folder, tmp_path)
    assert code == 1
    window = next(w for w in data["windows"] if w["question"] == "Q3")
    assert not window["feasible"]
    assert "reporting limit" in " ".join(window["relax"])
    assert {m["agent"] for m in data["missing"]} == {"formaldehyde", "formaldehyde, short term (oven door)"}


def test_a_plan_written_for_the_hand_is_sound_until_it_is_edited(hand, tmp_path):
    code, data = planned(EXAMPLE, tmp_path, "--checked", str(hand))
    assert code == 0
    assert data["edited_by_hand"] is True
    assert data["goals"] == []


def same_pump_twice(rows):
    first, other = (
        rows[0],
        next(row for row in rows if row["worker"] != rows[0]["worker"] and row["day"] == rows[0]["day"]),
    )
    other["pump"] = first["pump"]


def flow_too_high(rows):
    rows[0]["flow"] = "150"


def splitter_twice(rows):
    day = rows[0]["day"]
    first = next(row for row in rows if row["splitter"] and row["day"] == day)
    other = next(r for r in rows if r["splitter"] and r["day"] == day and r["splitter"] != first["splitter"])
    pump, splitter = other["pump"], first["splitter"]
    for row in rows:
        if (row["day"], row["pump"]) == (day, pump):
            row["splitter"] = splitter


def not_certified(rows):
    mine = [row for row in rows if row["worker"] == "P-08"]
    free = next(
        code
        for code in ("P-11", "P-12", "P-13", "P-14", "P-15", "P-16", "P-17", "P-18")
        if all((row["day"], row["pump"]) != (mine[0]["day"], code) for row in rows)
    )
    for row in mine:
        row["pump"] = free


def too_late(rows):
    pump, day = rows[0]["pump"], rows[0]["day"]
    for row in rows:
        if (row["pump"], row["day"]) == (pump, day):
            row["hang_at"] = f"{day}T09:00"


def two_on_one_port(rows):
    next(row for row in rows if row["port"] == "B")["port"] = "A"


def technician_away(rows):
    for row in rows:
        row["day"] = row["day"].replace("06-09", "06-12")
        row["hang_at"] = row["hang_at"].replace("06-09", "06-12")


def worker_nobody_asked(rows):
    for row in rows:
        if row["worker"] == "P-08":
            row["worker"] = "P-09"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (technician_away, "technician TB is not there"),
        (worker_nobody_asked, "no such worker"),
        (same_pump_twice, "workers at once"),
        (flow_too_high, "wanted 0.01"),
        (splitter_twice, "already"),
        (not_certified, "not certified for ink store"),
        (too_late, "outside the start window"),
        (two_on_one_port, "carries more than one sampler"),
    ],
    ids=lambda value: value.__name__ if callable(value) else "",
)
def test_every_fault_of_an_edited_plan_is_said_and_nothing_is_put_right(hand, tmp_path, capsys, change, said):
    edit(hand, change)
    before = hand.read_bytes()
    pdf = tmp_path / "plan.pdf"
    code, data = planned(EXAMPLE, tmp_path, "--checked", str(hand), "--pdf", str(pdf))
    assert code == 1
    assert any(said in fault["words"] for fault in data["faults"]), data["faults"]
    assert not any("mL/min" in fault["where"] for fault in data["faults"])  # pumps by their codes, not their kind
    assert not pdf.exists()
    assert "No PDF was written" in capsys.readouterr().err
    assert hand.read_bytes() == before


def test_what_an_edited_plan_no_longer_does_is_said(hand, tmp_path):
    edit(hand, lambda rows: [rows.remove(row) for row in list(rows) if row["worker"] == "P-08"])
    code, data = planned(EXAMPLE, tmp_path, "--checked", str(hand))
    assert code == 1
    assert data["faults"] == []
    assert {(m["worker"], m["agent"]) for m in data["missing"]} == {("P-08", "toluene"), ("P-08", "mek")}


def test_faults_of_the_tables_stop_the_command_and_nothing_is_written(folder, tmp_path, capsys):
    days = folder / "plan" / "days.csv"
    days.write_text(days.read_text(encoding="utf-8").replace("T06:00,", "T25:00,", 1), encoding="utf-8")
    path = tmp_path / "out.json"
    assert main(["plan", str(folder), "--json", str(path)]) == 2
    assert "plan/days.csv, row 2, column “start”" in capsys.readouterr().err
    assert not path.exists()


def test_the_terminal_says_who_when_with_what_and_how_sure(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert main(["plan", str(EXAMPLE)]) == 0
    text = capsys.readouterr().out
    for words in ("Everything that is wanted is planned", "Proven", "Hang at", "TA", "P-08", "Flammable atmospheres"):
        assert words in text
