"""
What is kept between two states of a survey: the assessment is the one worked from nothing.

Numbers may differ in their last digits: derivatives are added up in the order in which uncertainties were asked for.
"""

from __future__ import annotations

import io
import json
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from lapel.assessment.inputs import FindingOverride
from lapel.assessment.kept import KeptWork
from lapel.assessment.survey import assess
from lapel.exchange.assessment_json import write_assessment_json
from lapel.exchange.survey_folder import read_survey
from lapel.fieldlog import Entry, RunningFold

EXAMPLES = Path(__file__).parents[2] / "examples"
TABLES = ("shifts", "agents", "methods", "media_lots", "meters", "orders", "reports", "workers", "groups", "splitters")
LISTS = ("limits", "results", "overrides")


@cache
def example(name):
    return read_survey(EXAMPLES / name)


def written(assessment):
    """Return everything an assessment says, as open data, numbers to ten figures, equal shares in one order."""
    stream = io.StringIO()
    write_assessment_json(assessment, stream)
    return json.loads(stream.getvalue(), parse_float=lambda text: f"{float(text):.10g}", object_hook=_by_cause)


def _by_cause(found):
    if "budget" in found:
        found["budget"] = sorted(found["budget"], key=lambda row: row["cause"])
    return found


class Going:
    """A survey that goes on from state to state, and its assessment with what was kept."""

    def __init__(self, survey):
        self.survey = survey
        self.kept = KeptWork()
        self.log = RunningFold()
        self.taken = 0

    def assess(self):
        day = self.log.take(self.survey.entries[self.taken :])
        self.taken = len(self.survey.entries)
        return assess(self.survey, day=day, kept=self.kept)

    def is_as_worked_from_nothing(self):
        return written(self.assess()) == written(assess(self.survey))


def log_step(survey, draw, number):
    """Another entry: a copy at another time, or a correction of any entry, withdrawals included."""
    entry = draw(st.sampled_from(survey.entries))
    at = survey.entries[-1].at + timedelta(minutes=number)
    if entry.kind == "correction" or draw(st.booleans()):
        moved = entry.at + timedelta(minutes=draw(st.sampled_from([-30, -1, 0, 1, 7, 300])))
        made = replace(entry, id=f"new-{number}", at=moved, sequence=0, hash="", previous_hash="")
    else:
        names = [name for name, value in entry.fields.items() if value.replace(".", "", 1).isdigit()]
        said = {"withdraw": "yes"}
        if names and draw(st.integers(0, 3)):
            name = draw(st.sampled_from(names))
            said = {"field": name, "value": f"{float(entry.fields[name]) * 1.02:.4g}"}
        made = Entry(f"new-{number}", "correction", at, "paper", 0, "RK", said, corrects=entry.id, reason="misread")
    return replace(survey, entries=(*survey.entries, made))


def result_step(survey, draw):
    rows = list(survey.results)
    at = draw(st.integers(0, len(rows) - 1))
    what = draw(st.sampled_from(["more", "gone", "below"]))
    if what == "gone":
        del rows[at]
    elif what == "more":
        rows[at] = replace(rows[at], front_ug=rows[at].front_ug * 1.7)
    else:
        rows[at] = replace(rows[at], front_below=not rows[at].front_below)
    return replace(survey, results=tuple(rows))


def lifted_step(survey, draw):
    if survey.overrides and draw(st.booleans()):
        return replace(survey, overrides=survey.overrides[1:])
    sampler = draw(st.sampled_from(sorted(survey.orders)))
    rule = draw(st.sampled_from(["flow-change", "closing-round-missing", "breakthrough", "blanks-too-few"]))
    return replace(survey, overrides=(*survey.overrides, FindingOverride(sampler, rule, "A. N.", "seen on the spot")))


def setting_step(survey, draw):
    what = draw(st.sampled_from(["limit", "meter", "book", "day", "air", "order gone"]))
    if what == "limit":
        at = draw(st.integers(0, len(survey.limits) - 1))
        limits = list(survey.limits)
        limits[at] = replace(limits[at], value=limits[at].value * 0.8)
        return replace(survey, limits=tuple(limits))
    if what == "meter":
        code = draw(st.sampled_from(sorted(survey.meters)))
        return replace(survey, meters={**survey.meters, code: replace(survey.meters[code], relative_u=0.03)})
    if what == "book":
        return replace(survey, rule_book=draw(st.sampled_from(["niosh", "us-osha", "en-iso"])))
    if what == "day":
        return replace(survey, assessed_on=survey.assessed_on + timedelta(days=1))
    if what == "air":
        return replace(survey, site=replace(survey.site, air=None))
    return replace(survey, orders=dict(list(survey.orders.items())[1:]))


@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.reuse, Phase.generate],  # to make a failing case smaller takes minutes
)
@given(st.sampled_from(["small", "hard"]), st.data())
def test_after_any_changes_the_assessment_is_the_one_worked_from_nothing(name, data):
    going = Going(example(name))
    going.assess()
    for number in range(data.draw(st.integers(1, 6))):
        step = data.draw(st.sampled_from([log_step, log_step, log_step, result_step, lifted_step, setting_step]))
        extra = (number,) if step is log_step else ()
        going.survey = step(going.survey, data.draw, *extra)
        assert going.is_as_worked_from_nothing()


def changed(value):
    """Return something else of the same kind; `None` where nothing sensible comes to mind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * 2
    if isinstance(value, datetime):
        return value + timedelta(minutes=9)
    if isinstance(value, date):
        return value + timedelta(days=40)
    if isinstance(value, str):
        return value + " x"
    if isinstance(value, tuple) and value and isinstance(value[0], str):
        return (*value, value[0])
    return None


def variants(row):
    for one in fields(row):
        value = getattr(row, one.name)
        options = [changed(value)] if value is not None else [0.5, date(2026, 1, 5)]
        for other in options:
            if other is not None and other != value:
                yield one.name, replace(row, **{one.name: other})


def states(survey):
    """Yield the survey with one field of one record changed, for every field of every kind of record."""
    for name in TABLES:
        table = getattr(survey, name)
        for code in list(table)[:1]:
            for field, row in variants(table[code]):
                yield f"{name}.{code}.{field}", replace(survey, **{name: {**table, code: row}})
    for name in LISTS:
        rows = getattr(survey, name)
        for at in range(min(1, len(rows))):
            for field, row in variants(rows[at]):
                yield f"{name}[{at}].{field}", replace(survey, **{name: (*rows[:at], row, *rows[at + 1 :])})
    for field, site in variants(survey.site):
        yield f"site.{field}", replace(survey, site=site)


@pytest.mark.parametrize("name", ["small"])
def test_a_change_of_any_field_of_any_record_is_seen(name):
    """Whoever lets a sample depend on one thing more finds out here that it must be compared too."""
    survey, tried, told = example(name), 0, 0
    going = Going(survey)
    before = written(going.assess())
    for words, state in states(survey):
        try:
            wanted = written(assess(state))
        except (KeyError, TypeError, ValueError):
            continue  # no such code, zone or purpose: no survey that can be on record
        tried += 1
        told += wanted != before
        going.survey = state
        assert written(going.assess()) == wanted, words
        going.survey = survey
        assert written(going.assess()) == before, words
    assert tried > 50
    assert told > 20


def test_only_what_a_change_concerns_is_worked_again():
    going = Going(example("hard"))
    before = going.assess()
    sampler = before.samples[0].sampler
    going.survey = replace(
        going.survey, overrides=(*going.survey.overrides, FindingOverride(sampler, "breakthrough", "A. N.", "seen"))
    )
    after = going.assess()
    same = {new.sampler: new is old for new, old in zip(after.samples, before.samples, strict=True)}
    assert not same[sampler]
    assert all(kept for code, kept in same.items() if code != sampler)
    kept_shifts = [new is old for new, old in zip(after.shifts, before.shifts, strict=True)]
    assert 0 < kept_shifts.count(False) < len(kept_shifts) / 2


def test_every_table_of_a_survey_is_changed_in_these_tests():
    survey = example("hard")
    tables = {one.name for one in fields(survey) if isinstance(getattr(survey, one.name), dict | tuple)}
    assert tables - {*TABLES, *LISTS} == {"entries", "notes", "pumps", "compared_rule_books"}
    assert is_dataclass(survey.site)
