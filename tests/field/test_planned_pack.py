"""What the plan in force puts into the day pack: the tube of every port, field blanks and spares."""

from datetime import date
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.db import connection
from django.test.utils import CaptureQueriesContext

from lapel.assessment.plan_by_hand import HandTrain
from lapel.assessment.planned import groundwork
from lapel.exchange.plan_folder.reader import read_plan
from lapel.exchange.plan_now import kept
from lapel.exchange.record_transfer import import_survey
from lapel.field.day_pack import day_pack
from lapel.records.models import PlannedTrain
from lapel.records.plans import put_in_force

PLAN = Path(__file__).parents[2] / "examples" / "plan"
DAY = "2026-06-08"
TOLUENE, FORMALDEHYDE = "K1", "K2"


@pytest.fixture
def survey(db):
    user = User.objects.create_user("lead")
    return import_survey(PLAN, survey_code="plan", site_code="works", user=user).survey


@pytest.fixture(scope="module")
def ground():
    return groundwork(read_plan(PLAN))


def train(number, ports):
    """One pump on the worker of that number, hung in the order of the numbers."""
    return HandTrain(DAY, f"L-0{number}", f"P-1{number}", f"D-{number}", "TA", 330 + 20 * number, ports)


def in_force(survey, ground, *trains):
    put_in_force(survey, kept(trains, ground), user=None, reason="set by hand")


TWO_PORTS = (("A", TOLUENE, 0.012), ("B", FORMALDEHYDE, 0.04))
ONE_PORT = (("A", TOLUENE, 0.011),)


def test_every_port_comes_with_its_labelled_sampler_window_and_minutes(survey, ground):
    in_force(survey, ground, train(1, TWO_PORTS), train(2, ONE_PORT))
    pack = day_pack(survey, date(2026, 6, 8))
    assert pack.planned_for == DAY
    assert pack.plan_words == ""
    first, second = pack.trains
    assert [(one.train, one.worker, one.pump) for one in pack.trains] == [
        ("T1", "L-01", "P-11"),
        ("T2", "L-02", "P-12"),
    ]
    toluene, formaldehyde = first.ports
    assert (toluene.medium, toluene.methods) == ("charcoal 100/50", ["1501-toluene", "1501-xylene"])
    assert (toluene.lot, toluene.catalogue) == ("CH-8120", "T-100-50")  # the other lot expires before the day
    assert (toluene.target_lpm, toluene.minutes) == (0.012, 480.0)
    assert toluene.low_lpm <= 0.012 <= toluene.high_lpm
    assert formaldehyde.low_lpm == pytest.approx(0.03)  # the method's own lower end
    samplers = [port.samplers for one in pack.trains for port in one.ports]
    assert all(len(codes) == 1 for codes in samplers)
    assert [port.sampler for one in pack.trains for port in one.ports] == [codes[0] for codes in samplers]
    assert len({codes[0] for codes in samplers}) == 3
    assert second.ports[0].sampler not in {port.sampler for port in first.ports}


def test_the_blanks_of_the_day_are_spread_over_the_trains_that_carry_their_medium(survey, ground):
    """Each method here wants 10 % and no fewer than two: two of charcoal for T1 and T2, two of DNPH silica for T1."""
    in_force(survey, ground, train(1, TWO_PORTS), train(2, ONE_PORT))
    pack = day_pack(survey, date(2026, 6, 8))
    assert sorted((one.medium, one.lot, one.train) for one in pack.blanks) == [
        ("DNPH silica 300", "DN-3305", "T1"),
        ("DNPH silica 300", "DN-3305", "T1"),
        ("charcoal 100/50", "CH-8120", "T1"),
        ("charcoal 100/50", "CH-8120", "T2"),
    ]
    assert all(one.opened for one in pack.blanks)
    codes = {one.code for one in pack.blanks}
    assert len(codes) == 4
    assert not codes & {port.sampler for one in pack.trains for port in one.ports}
    assert pack.spares
    assert not codes & {one.code for one in pack.spares}


def test_a_plan_that_cannot_be_read_gives_its_trains_and_says_so(survey, ground):
    in_force(survey, ground, train(1, TWO_PORTS))
    survey.planquestions.all().delete()
    pack = day_pack(survey, date(2026, 6, 8))
    assert "cannot be read" in pack.plan_words
    [only] = pack.trains
    assert [(port.port, port.medium, port.target_lpm, port.sampler) for port in only.ports] == [
        ("A", "charcoal 100/50", 0.012, ""),
        ("B", "DNPH silica 300", 0.04, ""),
    ]
    assert (pack.blanks, pack.spares) == ([], [])


def test_a_larger_plan_takes_no_more_queries(survey, ground):
    def queries():
        with CaptureQueriesContext(connection) as seen:
            day_pack(type(survey).objects.select_related("site").get(code="plan"), date(2026, 6, 8))
        return len(seen)

    in_force(survey, ground, train(1, ONE_PORT))
    one = queries()
    in_force(survey, ground, *(train(number, TWO_PORTS) for number in (1, 2, 3)))
    assert PlannedTrain.objects.count() == 3
    assert queries() == one <= 45
