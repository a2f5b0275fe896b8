"""The charts of a plan: what is drawn as possible is possible, and nothing possible is left out."""

import math
import re
import xml.etree.ElementTree as ET

import pytest

from lapel.pictures.power_curve import Chance, power_curve
from lapel.pictures.scales import LogScale
from lapel.pictures.window_region import ChosenRun, Window, window_region

SVG = "{http://www.w3.org/2000/svg}"


def region_of(drawing):
    """Corners of the shaded region, read from the SVG."""
    for element in ET.fromstring(drawing.svg()).iter(f"{SVG}path"):
        title = element.find(f"{SVG}title")
        if title is not None and title.text.startswith("every flow and time"):
            return [tuple(map(float, pair)) for pair in re.findall(r"([-\d.]+) ([-\d.]+)", element.get("d"))]
    return None


def is_inside(point, corners):
    x, y = point
    crossings = 0
    for (x1, y1), (x2, y2) in zip(corners, corners[1:] + corners[:1], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            crossings += 1
    return crossings % 2 == 1


def test_the_shaded_region_holds_exactly_the_flows_and_times_that_are_possible():
    """Each point of a grid: least and most volume, least and most flow, the period; away from the edges by 3 %."""
    window = Window(10.0, 200.0, 2.0, 7.2, 480.0)
    drawing = window_region(window, [ChosenRun(480.0, 10.0, 15.0, "480 min")], name="Toluene")
    corners = region_of(drawing)
    verticals = [m for m in drawing.marks if getattr(m, "words", "") == "the period, 480 min"]
    period_x = float(dict(verticals[0].geometry)["x1"])
    flows = {
        m.words: float(dict(m.geometry)["y1"]) for m in drawing.marks if getattr(m, "words", "").endswith("est flow")
    }
    low_y, high_y = flows["lowest flow"], flows["highest flow"]
    up = LogScale(10.0, 200.0, low_y, high_y)
    left = min(x for x, _ in corners)
    across = LogScale(40.0, 480.0, left, period_x)
    seen = set()
    for minutes in (42, 60, 90, 150, 250, 400, 470):
        for flow in (11, 14, 20, 30, 45, 70, 120, 190):
            volume = flow * minutes / 1000.0
            margin = min(abs(math.log(volume / 2.0)), abs(math.log(volume / 7.2)))
            if margin < 0.03:
                continue
            possible = 2.0 <= volume <= 7.2
            assert is_inside((across.at(minutes), up.at(flow)), corners) == possible, (minutes, flow)
            seen.add(possible)
    assert seen == {True, False}


def test_nothing_is_shaded_where_nothing_is_possible():
    drawing = window_region(Window(10.0, 200.0, 200.0, 7.2, 480.0), [], name="Toluene")
    assert region_of(drawing) is None
    assert "nothing is feasible" in drawing.words


def test_a_window_without_a_most_volume_is_bounded_by_the_flow_alone():
    drawing = window_region(Window(10.0, 200.0, 2.0, math.inf, 480.0), [], name="Toluene")
    assert region_of(drawing)
    assert "no bound" in drawing.words


def test_every_chance_stands_at_its_height_and_the_chosen_one_is_larger():
    points = [Chance(6, 0.5, 0.0, "six"), Chance(8, 0.75, 0.01, "eight"), Chance(12, 1.0, 0.0, "twelve")]
    drawing = power_curve(points, wanted=0.8, chosen=12, name="Q1")
    circles = {
        m.words: {k: float(v) for k, v in m.geometry} for m in drawing.marks if getattr(m, "element", "") == "circle"
    }
    span = circles["six"]["cy"] - circles["twelve"]["cy"]
    assert circles["eight"]["cy"] == pytest.approx(circles["twelve"]["cy"] + span / 2, abs=0.02)
    assert circles["twelve"]["r"] > circles["six"]["r"]


def test_a_curve_without_points_is_refused():
    with pytest.raises(ValueError, match="at least one chance"):
        power_curve([], wanted=0.8, chosen=6, name="Q1")
