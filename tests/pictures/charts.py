"""One of each chart, for tests that hold for all of them."""

from itertools import pairwise

from lapel.pictures.budget_bar import budget_bar
from lapel.pictures.day_timeline import Event, Span, TimelineRow, day_timeline
from lapel.pictures.posterior_density import Band, posterior_density
from lapel.pictures.power_curve import Chance, power_curve
from lapel.pictures.probability_plot import FittedLine, PlottedResult, probability_plot
from lapel.pictures.verdict_strip import StripRow, verdict_strip
from lapel.pictures.window_region import ChosenRun, Window, window_region

INFINITE = float("inf")


def budget(text="flow drift", **more):
    rows = [(text, "61 %", 0.61), (f"{text} of the other", "38 %", 0.38), ("the clock", "1.0 %", 0.01)]
    return budget_bar(rows, name=text, **more)


def strip(text="Toluene", **more):
    rows = [
        StripRow(text, f"200 ppm {text}", 0.27, 0.27, 0.25, 0.29, "under", f"{text} 0.27"),
        StripRow(text, "0.016 ppm", 18.0, 18.0, 16.0, 20.0, "over", "18"),
        StripRow("n-Hexane", text, 0.17, INFINITE, 0.0, INFINITE, "cannot tell", "≥ 0.17"),
    ]
    return verdict_strip(rows, name=text, **more)


def timeline(text="G-101", **more):
    spans = (
        Span(60.0, 301.0, text, "sound", f"{text}, 241 min"),
        Span(301.0, 330.0, text, "sound", "on hold", held=True),
        Span(330.0, 345.0, text, "void", text),
    )
    events = (Event(20.0, "reading", "04:40 flow read"), Event(120.0, "check", text), Event(345.0, "fault", "fault"))
    rows = [TimelineRow(f"T-101 A {text}", text, spans, events), TimelineRow("T-102 B", "W-02", spans[:1], ())]
    hours = [(60.0 * n, f"{(4 + n) % 24:02d}:00") for n in range(8)]
    return day_timeline(rows, hours, name=text, **more)


def plot(text="50 ppm", **more):
    results = [
        PlottedResult(0.1, 0.0, 0.5, f"< 0.5 {text}"),
        PlottedResult(0.4, 1.2, 1.2, "1.2"),
        PlottedResult(0.6, 2.0, 3.0, "2 to 3"),
        PlottedResult(0.9, 7.1, INFINITE, "≥ 7.1"),
    ]
    line = FittedLine(1.3, 3.0, "GM 1.3, GSD 3")
    more = {"limit": 50.0, "limit_text": text, "unit": "ppm", "line": line, "name": text, **more}
    return probability_plot(results, **more)


def density(text="< 1 %", **more):
    curve = [(0.02 * 1.06**n, max(0.0, 1.0 - ((n - 40) / 40.0) ** 2)) for n in range(81)]
    edges = (0.0, 0.01, 0.1, 0.5, 1.0, INFINITE)
    bands = [Band(low, high, f"{text} {high:g}", "below 0.1 %") for low, high in pairwise(edges)]
    return posterior_density(curve, bands, name=text, **more)


def window(text="15 min", **more):
    runs = [ChosenRun(240.0, 10.0, 30.0, f"{text} at 10 to 30 mL/min"), ChosenRun(120.0, 20.0, 60.0, text)]
    return window_region(Window(10.0, 200.0, 2.0, 7.2, 480.0), runs, name=text, **more)


def power(text="6 results", **more):
    points = [Chance(6, 0.62, 0.0, text), Chance(7, 0.71, 0.01, text), Chance(12, 0.93, 0.004, "12 results: 93 %")]
    return power_curve(points, **{"wanted": 0.8, "chosen": 7, "name": text, **more})


EVERY_CHART = (budget, strip, timeline, plot, density, window, power)
