"""Each chart draws its numbers where they are, and nothing surer than it is."""

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from lapel.pictures.budget_bar import budget_bar
from lapel.pictures.day_timeline import day_timeline
from lapel.pictures.drawing import Mark
from lapel.pictures.posterior_density import Band, posterior_density
from lapel.pictures.probability_plot import PlottedResult, probability_plot
from lapel.pictures.verdict_strip import StripRow, verdict_strip
from tests.pictures.charts import INFINITE, density, plot, strip, timeline

SVG = "{http://www.w3.org/2000/svg}"


def marks(drawing, element):
    return [mark for mark in drawing.marks if isinstance(mark, Mark) and mark.element == element]


def of(mark, name):
    return float(dict(mark.geometry)[name])


def test_budget_bars_are_as_long_as_their_shares():
    drawing = budget_bar([("a", "60 %", 0.6), ("b", "30 %", 0.3), ("c", "10 %", 0.1)], name="x")
    lengths = [of(mark, "width") for mark in marks(drawing, "rect") if mark.fill == "accent"]
    assert [length / lengths[0] for length in lengths] == pytest.approx([1.0, 0.5, 1 / 6], rel=1e-3)


def test_small_causes_are_counted_not_dropped():
    rows = [("a", "99 %", 0.99), *((f"small {n}", "0.1 %", 0.001) for n in range(9))]
    texts = [text.text for text in budget_bar(rows, name="x").texts()]
    assert "9 smaller causes" in texts
    assert "small 8 0.1 %" in budget_bar(rows, name="x").words


def limit_line(drawing):
    return next(of(m, "x1") for m in marks(drawing, "line") if m.stroke == "ink")


def test_an_exposure_over_its_limit_stands_right_of_it_and_one_under_left():
    drawing = strip()
    edges = [(of(m, "x1"), m.stroke) for m in marks(drawing, "line") if m.width == 0.8 and of(m, "x1") == of(m, "x2")]
    assert all(x > limit_line(drawing) for x, colour in edges if colour == "over")
    assert all(x < limit_line(drawing) for x, colour in edges if colour == "under")


def test_whiskers_stand_at_the_confidence_limits():
    rows = [StripRow("a", "b", 1.0, 1.0, 0.1, 10.0, "cannot tell", "w")]
    drawing = verdict_strip(rows, name="x")
    (whisker,) = [m for m in marks(drawing, "line") if m.stroke == "open" and of(m, "y1") == of(m, "y2")]
    middle = limit_line(drawing)
    assert middle - of(whisker, "x1") == pytest.approx(of(whisker, "x2") - middle, abs=0.02)


def test_what_has_no_upper_end_is_an_arrow_and_not_a_closed_interval():
    bounded = StripRow("a", "b", 0.2, 0.4, 0.1, 0.5, "under", "w")
    unbounded = StripRow("a", "b", 0.2, INFINITE, 0.1, INFINITE, "cannot tell", "w")

    def arrows(row):
        drawing = verdict_strip([row], name="x")
        return [m for m in marks(drawing, "path") if m.fill in ("under", "open") and "Z" in dict(m.geometry)["d"]]

    assert len(arrows(unbounded)) == len(arrows(bounded)) + 1


def test_verdicts_differ_in_shape_and_word_not_in_colour_alone():
    drawing = strip()
    words = {text.text for text in drawing.texts()}
    assert {"under", "over", "cannot tell"} <= words
    outlines = {}
    for verdict, colour in (("under", "under"), ("over", "over"), ("cannot tell", "open")):
        shapes = [m for m in marks(drawing, "path") if colour in (m.fill, m.stroke) and not m.words]
        outlines[verdict] = (len(re.findall("L", dict(shapes[-1].geometry)["d"])), bool(shapes[-1].stroke))
    assert outlines["over"] != outlines["under"] != outlines["cannot tell"] != outlines["over"]


def test_a_non_detect_is_never_drawn_as_a_measured_point():
    results = [PlottedResult((n + 0.5) / 6, 0.0, 0.5, "< 0.5") for n in range(6)]
    drawing = probability_plot(results, limit=5.0, limit_text="5 ppm", unit="ppm", line=None, name="x")
    assert not marks(drawing, "circle")
    dashed = [m for m in marks(drawing, "line") if m.dashes]
    assert len(dashed) == 6


def test_measured_results_of_a_lognormal_stand_on_its_line():
    drawing = plot()
    points = {m.words: (of(m, "cx"), of(m, "cy")) for m in marks(drawing, "circle")}
    assert set(points) == {"1.2"}
    fitted_line = next(m for m in marks(drawing, "path") if m.stroke == "accent")
    (x1, y1), (x2, y2) = [
        tuple(map(float, p)) for p in re.findall(r"[ML]([\d.]+) ([\d.]+)", dict(fitted_line.geometry)["d"])
    ]
    assert x2 > x1
    assert y2 < y1


def test_the_part_above_the_limit_is_drawn_apart():
    drawing = density()
    above = [m for m in marks(drawing, "path") if m.fill == "over"]
    assert len(above) == 1
    steps = [float(x) for x in re.findall(r"[ML]([\d.]+) ", dict(above[0].geometry)["d"])]
    limit = next(of(m, "x1") for m in marks(drawing, "line") if m.words == "the limit")
    assert min(steps) == pytest.approx(limit, abs=0.02)


def test_bands_meet_without_a_gap():
    drawing = density()
    areas = [m for m in marks(drawing, "path") if m.words]
    spans = []
    for area in areas:
        steps = [float(x) for x in re.findall(r"[ML]([\d.]+) ", dict(area.geometry)["d"])]
        spans.append((min(steps), max(steps)))
    for (_, end), (start, _) in pairwise(spans):
        assert start == pytest.approx(end, abs=0.02)


def test_a_curve_that_does_not_ascend_is_refused():
    with pytest.raises(ValueError, match="ascending shares"):
        posterior_density([(1.0, 0.1), (0.5, 0.2)], [Band(0.0, INFINITE, "", "")], name="x")
    with pytest.raises(ValueError, match="found none"):
        verdict_strip([], name="x")
    with pytest.raises(ValueError, match="found none"):
        probability_plot([], limit=1.0, limit_text="", unit="", line=None, name="x")
    with pytest.raises(ValueError, match="found 0 rows"):
        day_timeline([], [(0.0, "a"), (60.0, "b")], name="x")


def test_a_segment_is_as_long_as_it_lasted():
    drawing = timeline()
    bars = [m for m in marks(drawing, "rect") if m.words]
    lengths = {m.words: of(m, "width") for m in bars}
    assert lengths["G-101"] / lengths["G-101, 241 min"] == pytest.approx(15.0 / 241.0, rel=1e-2)


def test_a_hold_is_not_drawn_as_time_sampled():
    holds = [m for m in marks(timeline(), "line") if m.words == "on hold"]
    assert len(holds) == 1
    assert holds[0].dashes


def test_titles_are_read_as_text():
    root = ET.fromstring(timeline("<b>x</b>").svg())
    assert root.find(f"{SVG}title").text == "<b>x</b>"
