"""The air a sampler drew: every segment with its own flow, and no volume while a part of it is not known."""

from dataclasses import replace

import pytest

from lapel.assessment.bench import FlowBench
from lapel.assessment.place_air import PlaceAir
from lapel.assessment.sample import air_drawn, drawn_segments
from lapel.fieldlog.day import fold
from tests.assessment.one_worker import one_tube


@pytest.fixture
def drawn():
    """A bench, and the one segment of 480 min at 99 mL/min."""
    survey = one_tube(20.0).survey()
    day = fold(survey.entries)
    bench = FlowBench(survey.meters, PlaceAir(survey.site, day.conditions))
    (segment,) = drawn_segments(day.runs["L-1"], bench)
    return bench, segment


def test_segments_add_up(drawn):
    bench, segment = drawn
    assert air_drawn([segment, segment], bench).volume.value == pytest.approx(2 * 480 * 0.099)


@pytest.mark.parametrize("unknown", [{"minutes": None}, {"before": None, "after": None}], ids=["time", "flow"])
def test_a_part_of_the_air_is_no_volume_of_the_sample(drawn, unknown):
    bench, segment = drawn
    found = air_drawn([segment, replace(segment, **unknown)], bench)
    assert found.volume is None
    assert found.segments[0].volume.value == pytest.approx(480 * 0.099)
    assert found.segments[1].volume is None
