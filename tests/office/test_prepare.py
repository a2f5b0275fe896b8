"""How trains were prepared, and what is missing, in plain words."""

from dataclasses import replace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from grown_survey import grow
from read_page import text_of

from lapel.assessment.held import held_survey
from lapel.assessment.preparedness import preparedness
from lapel.fieldlog import fold
from lapel.reference import rule_book

PREPARE = "/surveys/demo/prepare/"


def prepared(data, entries, code):
    """A train of a survey, prepared as some entries say."""
    found = preparedness(data, fold(entries), rule_book(data.rule_book))
    return next(one for one in found if one.prepared.preparation.train == code)


def without(data, kind, **fields):
    """The entries of a survey but those of a kind with these fields."""
    return [e for e in data.entries if e.kind != kind or any(e.fields.get(n) != v for n, v in fields.items())]


def changed(data, kind, train, **fields):
    """The entries of a survey with some fields of one train's entries of a kind changed."""
    return [
        replace(e, fields={**e.fields, **fields}) if e.kind == kind and e.fields.get("train") == train else e
        for e in data.entries
    ]


def all_missing(train):
    return " ".join((*train.missing, *(words for port in train.ports for words in port.missing)))


def test_a_train_prepared_by_the_book_lacks_nothing(hard):
    data, _ = held_survey(hard.survey)
    train = prepared(data, data.entries, "T-101")
    assert train.is_ready
    assert [port.port for port in train.ports] == ["A", "B", "C"]


def test_the_closing_flow_is_the_mean_of_its_readings(hard):
    """Read 30.1, 30.3 and 30.2 mL/min on the piston meter M-1: mean 30.2, spread 0.2 / 30.2."""
    data, _ = held_survey(hard.survey)
    port = prepared(data, data.entries, "T-101").ports[0]
    assert port.flow.flow.value == pytest.approx(0.0302)
    assert port.flow.spread == pytest.approx(0.2 / 30.2)
    assert port.flow.n == 3


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        (lambda data: without(data, "leak_checked", train="T-101"), "No leak check is recorded."),
        (lambda data: without(data, "closing_round", train="T-101"), "No closing round is recorded"),
        (
            lambda data: changed(data, "leak_checked", "T-101", passed="no"),
            "A leak check failed, and none passed after",
        ),
        (lambda data: changed(data, "closing_round", "T-101", valve_touched="yes"), "A valve was touched during"),
        (lambda data: changed(data, "train_prepared", "T-101", pump="P-99"), "Pump P-99 is not in the register"),
        (lambda data: changed(data, "train_prepared", "T-101", splitter="X-9"), "Splitter X-9 is not in the register"),
        (lambda data: changed(data, "train_prepared", "T-101", warm_up_min="1"), "Warm-up of 1 min; at least 5 min"),
        (lambda data: changed(data, "train_prepared", "T-101", warm_up_min=""), "Warm-up is not recorded."),
        (lambda data: changed(data, "train_prepared", "T-101", charged_at=""), "The last full charge is not recorded."),
        (
            lambda data: changed(data, "train_prepared", "T-101", charged_at="2026-10-26T04:40-06:00"),
            "Charged 72 h before; no more than 24 h is wanted.",
        ),
        (lambda data: without(data, "port_prepared", train="T-101", port="B"), "No calibration tube is recorded."),
        (
            lambda data: changed(data, "port_prepared", "T-101", target="50"),
            "more than a tenth away from the 50.0 mL/min",
        ),
        (lambda data: changed(data, "flow_read", "T-101", meter="M-77"), "Read with meter M-77, which is not in the"),
        (lambda data: changed(data, "flow_read", "T-101", reading="0.5"), "is below the method's 10.0 mL/min"),
    ],
)
def test_what_is_missing_is_said_in_plain_words(hard, entries, words):
    data, _ = held_survey(hard.survey)
    train = prepared(data, entries(data), "T-101")
    assert words in all_missing(train)
    assert not train.is_ready


def test_a_port_left_out_of_the_closing_round_is_named(hard):
    data, _ = held_survey(hard.survey)
    left = without(data, "flow_read", train="T-101", port="C", phase="closing")
    ports = {port.port: port.missing for port in prepared(data, left, "T-101").ports}
    assert any("Not read in a closing round" in words for words in ports["C"])
    assert ports["A"] == ()


def test_an_expired_certificate_is_named(hard):
    meter = hard.site.meters.get(code="M-1")
    meter.due_on = "2026-10-01"
    meter.save()
    data, _ = held_survey(hard.survey)
    assert "The certificate of meter M-1 ran out on 2026-10-01" in all_missing(prepared(data, data.entries, "T-101"))


def test_the_page_shows_readings_window_and_day(hard, as_person):
    page = text_of(as_person(hard.viewer).get(PREPARE, {"day": "2026-10-29"}))
    assert "30.1, 30.3, 30.2 mL/min, M-1" in page
    assert "10.0 to 200 mL/min" in page
    assert "4 of 4 trains ready" in page
    assert "Train T-201" not in page
    assert "Train T-201" in text_of(as_person(hard.viewer).get(PREPARE, {"day": "2026-10-30"}))


def test_a_day_that_is_not_there_shows_the_last_one(hard, as_person):
    assert "Train T-301" in text_of(as_person(hard.viewer).get(PREPARE, {"day": "1999-01-01"}))


def test_for_an_outsider_there_is_nothing(cast, as_person):
    assert as_person(cast.outsider).get(PREPARE).status_code == 404


def test_the_page_asks_the_same_number_of_questions_of_a_large_survey(cast, as_person, django_assert_num_queries):
    client = as_person(cast.viewer)
    client.get(PREPARE)
    with CaptureQueriesContext(connection) as small:
        client.get(PREPARE)
    asked = len(small)
    grow(cast.survey, 6)
    client.get(PREPARE)
    with django_assert_num_queries(asked):
        client.get(PREPARE)
