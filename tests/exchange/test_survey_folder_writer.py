"""What is written reads back as what it was, or the reader is told where not."""

import functools
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lapel.assessment.inputs import Agent, Meter
from lapel.exchange import InputProblems, read_survey
from lapel.exchange.survey_folder import writer
from lapel.exchange.survey_folder.writer import write_survey
from lapel.exchange.survey_folder.writer_cells import celsius, number, percent, scaled
from lapel.exchange.survey_folder.writer_laboratory import Delivered
from lapel.figures.units import canonical
from lapel.hygiene.air import Air

EXAMPLES = Path(__file__).parents[2] / "examples"


@functools.cache
def read_hard():
    return read_survey(EXAMPLES / "hard")


@pytest.fixture
def hard():
    return read_hard()


def delivered_of(survey, name="hard"):
    root = EXAMPLES / name
    return {
        code: Delivered(report.file, (root / report.file).read_bytes(), (root / report.origin).read_text("utf-8"))
        for code, report in survey.reports.items()
    }


@settings(deadline=None)
@given(st.floats(0.0, 20.0))
def test_any_flow_in_either_unit_is_the_same_number_again(flow):
    assert canonical(scaled(flow, 1000), "mL/min", "flow") == flow
    assert canonical(number(flow), "L/min", "flow") == flow


@settings(deadline=None)
@given(st.floats(213.15, 343.15))
def test_any_temperature_in_celsius_is_the_same_number_again(kelvin):
    assert canonical(celsius(kelvin), "°C", "temperature") == kelvin


@settings(deadline=None)
@given(st.decimals(0, 100, places=4))
def test_any_typed_percentage_is_the_same_fraction_again(typed):
    fraction = float(typed) / 100.0
    assert float(percent(fraction)) / 100.0 == fraction


def test_a_percentage_is_written_as_people_write_it():
    assert [percent(value) for value in (0.05, 0.045, 0.07, 0.1, None)] == ["5", "4.5", "7", "10", ""]


_CERTIFICATES = st.builds(
    lambda percent, k, full, top: (percent, k, full, top),
    st.decimals(0, 10, places=2),
    st.sampled_from([1.0, 1.65, 1.96, 2.0, 2.3, 3.0]),
    st.decimals(0, 5, places=2),
    st.decimals("0.05", 20, places=3),
)


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(certificate=_CERTIFICATES)
def test_a_certificates_uncertainty_comes_back_to_the_last_bit_or_is_named(tmp_path_factory, certificate):
    hard = read_hard()
    stated, k, full, top = (float(part) for part in certificate)
    meter = replace(
        hard.meters["M-1"],
        range_min_lpm=0.0,
        range_max_lpm=top,
        relative_u=stated / 100.0 / k,
        full_scale_u_lpm=full / 100.0 * top / k,
    )
    folder = tmp_path_factory.mktemp("certificates") / "out"
    written = write_survey(replace(hard, meters={**hard.meters, "M-1": meter}), folder, delivered=delivered_of(hard))
    again = read_survey(folder).meters["M-1"]
    same = (again.relative_u, again.full_scale_u_lpm) == (meter.relative_u, meter.full_scale_u_lpm)
    assert same or any("meters M-1" in line for line in written.differences)
    assert again.relative_u == pytest.approx(meter.relative_u, rel=1e-14, abs=1e-18)
    assert again.full_scale_u_lpm == pytest.approx(meter.full_scale_u_lpm, rel=1e-14, abs=1e-18)


_AWKWARD = ['a "b", c', "two\nlines", "=1+1", "a;b", "'", '"""', "\\", "#x", "[y]"]
_TEXTS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"], exclude_characters="\ufffd\ufeff"), max_size=60
).map(str.strip)


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(text=_TEXTS.filter(bool) | st.sampled_from(_AWKWARD))
def test_whatever_people_write_comes_back_as_written(tmp_path_factory, text):
    hard = read_hard()
    entries = tuple(
        replace(e, fields={**e.fields, "text": text}) if e.kind == "note" and not e.hash else e for e in hard.entries
    )
    survey = replace(
        hard,
        title=text,
        notes={**hard.notes, text: text},
        groups={**hard.groups, "COAT": replace(hard.groups["COAT"], tasks=text)},
        entries=entries,
    )
    folder = tmp_path_factory.mktemp("texts") / "out"
    written = write_survey(survey, folder, delivered=delivered_of(hard))
    assert written.is_whole, (written.problems, written.differences)


def test_what_a_folder_cannot_say_is_named(hard, tmp_path):
    agents = {**hard.agents, "toluene": replace(hard.agents["toluene"], effect_groups=("one; two",))}
    written = write_survey(replace(hard, agents=agents), tmp_path / "out", delivered=delivered_of(hard))
    assert [line for line in written.differences if "agents toluene.effect_groups" in line]
    assert not written.is_whole


def test_a_survey_that_is_not_finished_is_written_with_what_is_missing(hard, tmp_path):
    begun = replace(hard, orders={}, shifts={}, entries=(), reports={}, results=(), overrides=())
    written = write_survey(begun, tmp_path / "out")
    assert {problem.where.file for problem in written.problems} >= {"shifts.csv", "samples.csv"}
    assert (tmp_path / "out/survey.toml").exists()


def test_no_file_name_leads_out_of_the_folder(hard, tmp_path):
    delivered = {
        code: replace(came, file=f"../../{code}.csv" if code != "GA-4822" else "/tmp/../GA-4822.csv")
        for code, came in delivered_of(hard).items()
    }
    survey = replace(
        hard,
        reports={
            code: replace(report, origin=f"laboratory/../../{code}.toml") for code, report in hard.reports.items()
        },
    )
    written = write_survey(survey, tmp_path / "inner" / "out", delivered=delivered)
    assert [path.name for path in tmp_path.iterdir()] == ["inner"]
    assert [path.name for path in (tmp_path / "inner").iterdir()] == ["out"]
    assert written.is_whole, (written.problems, written.differences)


def test_two_reports_that_came_as_files_of_one_name_both_come_back(hard, tmp_path):
    delivered = delivered_of(hard)
    for code in ("GA-4822", "GA-4823"):
        came = delivered[code]
        document = came.document.replace(f'file = "{code}.csv"', 'file = "results.csv"')
        delivered[code] = replace(came, file="laboratory/results.csv", document=document)
    written = write_survey(hard, tmp_path / "out", delivered=delivered)
    assert written.is_whole, (written.problems, written.differences)
    assert written.rewritten_reports == ("GA-4823",)
    kept = tmp_path / "out/laboratory/as-delivered/GA-4823/results.csv"
    assert kept.read_bytes() == delivered["GA-4823"].content


def test_a_disk_that_fills_up_leaves_nothing(hard, tmp_path, monkeypatch):
    def full(*_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writer, "write_laboratory", full)
    with pytest.raises(InputProblems, match="No space left on device"):
        write_survey(hard, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_meter_with_a_curve_alone_says_its_unit(hard, tmp_path):
    bare = Meter("C-1", "burette", curve=((0.05, 0.0491), (0.1, 0.0988)))
    odd = Meter("C-2", "thermal", reads="standard", calibrated_at=Air(273.15, 101.325), exponent=0.5)
    survey = replace(hard, meters={**hard.meters, "C-1": bare, "C-2": odd})
    written = write_survey(survey, tmp_path / "out", delivered=delivered_of(hard))
    assert written.is_whole, (written.problems, written.differences)


def test_an_agent_with_the_least_known_of_it_comes_back(hard, tmp_path):
    survey = replace(hard, agents={**hard.agents, "dust": Agent("dust", "Dust of the belts")})
    assert write_survey(survey, tmp_path / "out", delivered=delivered_of(hard)).is_whole
