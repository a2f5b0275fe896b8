"""`lapel judge`: a table of results against a limit."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import nct, norm, shapiro

from lapel.cli.main import main
from lapel.statistics import posterior

TABLE = Path(__file__).parents[2] / "examples" / "group" / "results.csv"


def judged(capsys, *arguments):
    code = main(["judge", *arguments, "--json", "-"])
    return code, json.loads(capsys.readouterr().out)


def table(tmp_path, text):
    path = tmp_path / "results.csv"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_six_results_by_the_factor_of_the_standard(capsys, tmp_path):
    """U_T = 2.187 for six results; mean and spread of the logs by hand."""
    values = [0.1, 0.2, 0.15, 0.3, 0.12, 0.25]
    logs = np.log(values)
    factor = nct.ppf(0.7, 5, norm.ppf(0.95) * np.sqrt(6)) / np.sqrt(6)
    limit_shown = np.exp(logs.mean() + factor * logs.std(ddof=1))
    text = "value\n" + "\n".join(map(str, values)) + "\n"
    for limit, outcome, code in ((limit_shown * 1.01, "shown", 0), (limit_shown * 0.99, "not shown", 1)):
        found, data = judged(capsys, table(tmp_path, text), "--limit", f"{limit:.9f} mg/m3")
        (group,) = data["groups"]
        assert group["tests"][0]["outcome"] == outcome
        assert found == code
        assert group["upper_tolerance_limit_95_70"] == pytest.approx(limit_shown, rel=1e-8)


def test_every_group_of_a_table_is_judged_apart(capsys):
    code, data = judged(capsys, str(TABLE), "--limit", "2 mg/m3")
    assert [group["group"] for group in data["groups"]] == ["Belt coaters", "Warehouse", "Kettle charging"]
    assert code == 1
    for group in data["groups"]:
        assert sum(group["bands_of_95th_percentile"].values()) == pytest.approx(1.0, abs=1e-9)
        believed = group["believed"]["95th percentile"]
        assert believed["0.05"] < believed["0.5"] < believed["0.7"] < believed["0.95"]


def test_no_sentence_is_surer_than_the_test(capsys):
    main(["judge", str(TABLE), "--limit", "2 mg/m3", "--group", "Kettle charging"])
    page = " ".join(capsys.readouterr().out.split())
    assert "These six results do not show with 70 % confidence that fewer than 5 % of shifts exceed the limit." in page
    assert "compliant" not in page.lower()


def test_a_unit_of_its_own_is_converted_exactly(capsys, tmp_path):
    text = "value,unit\n" + "\n".join(f"{v},ug/m3" for v in (100, 200, 150)) + "\n"
    _, data = judged(capsys, table(tmp_path, text), "--limit", "2 mg/m3")
    assert [row["upper"] for row in data["groups"][0]["results"]] == [0.1, 0.2, 0.15]


def test_intervals_and_least_values_stay_what_they_are(capsys, tmp_path):
    text = "value,low,high\n<0.5,,\n>3,,\n,0.2,0.6\n0.4,,\n"
    _, data = judged(capsys, table(tmp_path, text), "--limit", "5 ppm")
    assert [(r["lower"], r["upper"]) for r in data["groups"][0]["results"]] == [
        (0.0, 0.5), (3.0, None), (0.2, 0.6), (0.4, 0.4),
    ]  # fmt: skip


def test_all_non_detects_are_said_to_rest_on_the_prior(capsys, tmp_path):
    code, data = judged(capsys, table(tmp_path, "value\n" + "<0.1\n" * 6), "--limit", "2 mg/m3")
    (group,) = data["groups"]
    assert group["prior_decides"]
    assert group["notes"]
    assert "reason" in group["fit"]
    assert code in (0, 1)


def test_measurement_error_makes_the_group_look_no_wider(capsys, tmp_path):
    """Part of the spread of the results is then the method's, so the group's own spread is believed smaller."""
    text = "value\n0.5\n0.9\n1.4\n0.7\n1.1\n0.6\n"
    _, without = judged(capsys, table(tmp_path, text), "--limit", "5 ppm")
    _, with_error = judged(capsys, table(tmp_path, text), "--limit", "5 ppm", "--error-cv", "25")
    spread = "geometric standard deviation"
    assert with_error["groups"][0]["believed"][spread]["0.5"] < without["groups"][0]["believed"][spread]["0.5"]


PARTLY = "value,error_cv_percent\n0.5,30\n0.9,30\n1.4,30\n0.7,\n1.1,30\n0.6,30\n"


@pytest.mark.parametrize(
    ("others", "cv", "said"),
    [
        ((), 0.0, "30 %; 1 of 6 results state none and count as exact"),
        (("--error-cv", "10"), 0.1, "(10 to 30 %)"),
    ],
)
def test_a_row_keeps_its_own_measurement_error_where_another_has_none(capsys, tmp_path, others, cv, said):
    _, data = judged(capsys, table(tmp_path, PARTLY), "--limit", "2 mg/m3", *others)
    (group,) = data["groups"]
    errors = [0.3, 0.3, 0.3, cv, 0.3, 0.3]
    alone = posterior([0.5, 0.9, 1.4, 0.7, 1.1, 0.6], limit=2.0, error_cv=errors)
    assert group["error_cv"] == errors
    assert group["believed"]["95th percentile"]["0.7"] == pytest.approx(alone.quantiles("p95", [0.7])[0, 0], rel=1e-12)
    assert any(said in note and "tests" in note for note in group["notes"])


def test_a_range_of_error_and_a_half_filled_column_are_refused_together(capsys, tmp_path):
    assert main(["judge", table(tmp_path, PARTLY), "--limit", "2 mg/m3", "--error-cv", "5-10"]) == 2
    assert "states it for 5 of 6 results; wanted one number" in " ".join(capsys.readouterr().err.split())


def test_rows_without_worker_or_date_are_said_to_stop_what_needs_them(capsys, tmp_path):
    text = "value,worker,date\n0.5,A,2026-01-01\n0.9,A,2026-01-02\n1.4,B,\n0.7,B,2026-01-04\n1.1,,2026-01-05\n"
    main(["judge", table(tmp_path, text), "--limit", "2 mg/m3"])
    page = " ".join(capsys.readouterr().out.split())
    assert "1 of 5 results name no worker, so nothing is said worker by worker" in page
    assert "1 of 5 results have no date, so no drift in time is looked for" in page


def test_open_data_hold_all_that_the_page_tells(capsys):
    _, data = judged(capsys, str(TABLE), "--limit", "2 mg/m3", "--group", "Kettle charging")
    (group,) = data["groups"]
    first = {"lower": 1.2, "upper": 1.2, "worker": "M-01", "date": "2026-03-05"}
    assert group["results"][0] == first
    values = [r["upper"] for r in group["results"]]
    assert group["shape"]["statistic"] == pytest.approx(shapiro(np.log(values)).statistic, abs=1e-3)
    assert group["exceedance"]["lower"] < group["exceedance"]["estimate"] < group["exceedance"]["upper"]
    main(["judge", str(TABLE), "--limit", "2 mg/m3", "--group", "Kettle charging"])
    page = " ".join(capsys.readouterr().out.split())
    for told in (
        group["trend_a_year"]["remark"],
        group["two_populations"]["remark"],
        *group["between_workers"]["words"],
        f"The chance that one more result changes this is below 1 %, judged from {group['next_result']['judged_from']}",
    ):
        assert told in page
    assert page.count("Before the results: GSD") == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("value\n0,5\n", "row 2"),
        ("value\nabc\n", "“abc”"),
        ("value\n-1\n", "row 2"),
        ("value\n0\n", "reporting limit"),
        ("value\nnan\n", "row 2"),
        ("value,unit\n1,ppm\n", "mg/m3"),
        ("values\n1\n", "value"),
        ("value\n", "no result"),
        ("", "empty"),
        ("value,date\n1,3/4/2026\n", "year-month-day"),
        ("low,high\n3,1\n", "low not above high"),
    ],
)
def test_a_faulty_table_is_refused_with_its_place(capsys, tmp_path, text, said):
    assert main(["judge", table(tmp_path, text), "--limit", "2 mg/m3"]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""


@pytest.mark.parametrize("limit", ["2", "mg/m3", "0 ppm", "-1 ppm", "2 furlong", "1,5 ppm"])
def test_a_limit_without_sense_is_refused(capsys, limit):
    assert main(["judge", str(TABLE), f"--limit={limit}"]) == 2
    assert "limit" in capsys.readouterr().err.lower()


@pytest.mark.parametrize("error", ["-5", "200", "15-5", "5-10-15", "x"])
def test_a_measurement_error_without_sense_is_refused(capsys, error):
    assert main(["judge", str(TABLE), "--limit", "2 mg/m3", f"--error-cv={error}"]) == 2
    assert capsys.readouterr().err


def test_an_unknown_group_is_said(capsys):
    assert main(["judge", str(TABLE), "--limit", "2 mg/m3", "--group", "Nobody"]) == 2
    assert "Nobody" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("value", "limit", "words"),
    [
        ("1e300", "2 mg/m3", "wanted: a result of at most 10 000 000 mg/m³"),
        ("<1e-20", "2 mg/m3", "wanted: a result of at least 1e-12 mg/m³"),
        ("2e6", "50 ppm", "wanted: a result of at most 1 000 000 ppm, which is the pure vapour"),
        ("1", "1e300 mg/m3", "wanted a limit of at most 10 000 000 mg/m³"),
        ("1", "2000000 ppm", "wanted a limit of at most 1 000 000 ppm"),
        ("1", "1e-15 ppm", "wanted a limit of at least 1e-12 ppm"),
    ],
)
def test_what_no_air_can_hold_is_no_result_and_no_limit(value, limit, words, tmp_path, capsys):
    assert main(["judge", table(tmp_path, f"value\n1\n{value}\n"), "--limit", limit]) == 2
    assert words in " ".join(capsys.readouterr().err.split())


def test_the_largest_there_can_be_is_still_a_result(tmp_path, capsys):
    code, data = judged(capsys, table(tmp_path, "value\n1000000\n900000\n"), "--limit", "1000000 ppm")
    assert code in (0, 1)
    assert len(data["groups"]) == 1
