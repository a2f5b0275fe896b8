"""The day timeline: ports against time, with what each sampler drew, what was read, and what happened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

from lapel.pictures.drawing import Drawing
from lapel.pictures.lettering import fitted, text_width
from lapel.pictures.scales import LinearScale
from lapel.said import Tell, as_it_is, said

EventKind: TypeAlias = Literal["reading", "check", "fault", "touched"]
ROW = 13.0
SIZE = 6.8
BAR = 7.6
LEGEND_ROW = 10.0
FILLS = {"sound": ("accent-soft", "accent"), "qualified": ("open-soft", "open"), "void": ("paper", "over")}


@dataclass(frozen=True, slots=True)
class Span:
    """One segment of one sampler, in minutes from the picture's start; `held` for a hold with the sampler in place."""

    start_min: float
    stop_min: float
    sampler: str
    level: Literal["sound", "qualified", "void"]
    words: str
    held: bool = False


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened at one instant: a flow reading, a look at the pump, a fault, a valve touched."""

    at_min: float
    kind: EventKind
    words: str


@dataclass(frozen=True, slots=True)
class TimelineRow:
    """One port of one train, and who wore it."""

    label: str
    who: str
    spans: tuple[Span, ...]
    events: tuple[Event, ...]


def day_timeline(
    rows: Sequence[TimelineRow],
    hours: Sequence[tuple[float, str]],
    *,
    name: str,
    width: float = 728.0,
    tell: Tell = as_it_is,
) -> Drawing:
    """
    Draw a sampling day.

    Parameters
    ----------
    rows : sequence of TimelineRow
        At least one, from top to bottom.
    hours : sequence of (minutes, label)
        At least two hours to name, on the clock of the place; first and last bound the picture. Minutes are those that
        passed: where the clock was set back, an hour is named twice.
    name : str
        What the chart is called.
    width : float
        Of the drawing. [pt]
    tell : callable
        Gives a text in the reader's language.

    Raises
    ------
    ValueError
        There are no rows, or fewer than two hours.
    """
    if not rows or len(hours) < 2:
        raise ValueError(f"wanted a row and two hours at least; found {len(rows)} rows and {len(hours)} hours")
    foot = ROW * len(rows) + 4.0
    rows = [_told(row, tell) for row in rows]
    ports = "; ".join(f"{row.label}, {row.who}: {', '.join(span.words for span in row.spans)}" for row in rows)
    legend = _legend_rows(width, tell)
    words = tell(said("What each port drew: {ports}.", ports=ports))
    drawing = Drawing(width, foot + 19.0 + LEGEND_ROW * len(legend), name, words)
    first = max(text_width(row.label, SIZE, bold=True) for row in rows) + 6.0
    second = max(text_width(row.who, SIZE) for row in rows) + 8.0
    first, second = min(first, 0.16 * width), min(second, 0.16 * width)
    scale = LinearScale(hours[0][0], hours[-1][0], first + second, width - 12.0)
    _axis(drawing, scale, hours, foot)
    for index, row in enumerate(rows):
        middle = ROW * (index + 0.5) + 2.0
        if index:
            drawing.line(0.0, middle - ROW / 2.0, width, middle - ROW / 2.0, stroke="hair", width=0.3)
        drawing.text_beside(0.0, middle, fitted(row.label, first - 4.0, SIZE, bold=True), size=SIZE, bold=True)
        drawing.text_beside(first, middle, fitted(row.who, second - 4.0, SIZE), size=SIZE, fill="muted")
        for span in row.spans:
            _span(drawing, span, scale, middle, tell(said(span.level)))
        for event in row.events:
            _event(drawing, event, scale.at(event.at_min), middle)
    _legend(drawing, legend, 0.0, foot + 22.0, tell)
    return drawing


def _told(row: TimelineRow, tell: Tell) -> TimelineRow:
    spans = tuple(replace(span, words=tell(span.words)) for span in row.spans)
    events = tuple(replace(event, words=tell(event.words)) for event in row.events)
    return TimelineRow(row.label, tell(row.who), spans, events)


def _axis(drawing: Drawing, scale: LinearScale, hours: Sequence[tuple[float, str]], foot: float) -> None:
    last = -1e9
    for minutes, label in hours:
        x = scale.at(minutes)
        drawing.line(x, 0.0, x, foot + 2.0, stroke="hair", width=0.4)
        half = text_width(label, 6.4) / 2.0
        if x - half > last + 4.0:
            drawing.text(x, foot + 9.5, label, size=6.4, anchor="middle")
            last = x + half
    drawing.line(scale.start, foot, scale.end, foot, stroke="line", width=0.5)


def _span(drawing: Drawing, span: Span, scale: LinearScale, y: float, level: str) -> None:
    left, right = scale.at(span.start_min), scale.at(span.stop_min)
    fill, edge = FILLS[span.level]
    if span.held:
        drawing.line(left, y, right, y, stroke=edge, width=1.0, dashes="2 1.6", words=span.words)
        return
    dashes = "2 1.2" if span.level == "void" else ""
    top = y - BAR / 2.0
    drawing.rect(left, top, right - left, BAR, fill=fill, stroke=edge, line=0.6, dashes=dashes, words=span.words)
    label = span.sampler if span.level == "sound" else f"{span.sampler} {level}"
    for text in (label, span.sampler):
        if text_width(text, 6.2) + 8.0 < right - left:
            drawing.text_beside(left + 4.0, y, text, size=6.2)
            return
    beside = fitted(label, scale.end - right - 8.0, 6.2)
    if beside != "…":
        drawing.text_beside(right + 4.0, y, beside, size=6.2)


def _event(drawing: Drawing, event: Event, x: float, y: float) -> None:
    if event.kind == "reading":
        drawing.circle(x, y, 1.9, fill="paper", stroke="ink", width=0.8, words=event.words)
    elif event.kind == "check":
        drawing.line(x, y + BAR / 2.0 - 0.6, x, y + BAR / 2.0 + 2.4, stroke="ink", width=1.0, words=event.words)
    elif event.kind == "touched":
        points = [(x, y - 2.4), (x + 2.2, y), (x, y + 2.4), (x - 2.2, y)]
        drawing.polygon(points, fill="ink", words=event.words)
    else:
        drawing.line(x - 2.4, y - 2.4, x + 2.4, y + 2.4, stroke="over", width=1.3, words=event.words)
        drawing.line(x - 2.4, y + 2.4, x + 2.4, y - 2.4, stroke="over", width=1.3)


LEGEND = ("sound", "qualified", "void", "on hold", "flow read", "look at the pump", "valve touched", "fault")
LEGEND_EVENTS: dict[str, EventKind] = {
    "flow read": "reading",
    "look at the pump": "check",
    "valve touched": "touched",
    "fault": "fault",
}


def _legend_rows(room: float, tell: Tell) -> list[list[str]]:
    """Entries of the legend in as many rows as the room wants."""
    rows: list[list[str]] = [[]]
    used = 0.0
    for text in LEGEND:
        width = _legend_width(text, tell)
        if rows[-1] and used + width > room:
            rows.append([])
            used = 0.0
        rows[-1].append(text)
        used += width
    return rows


def _legend_width(text: str, tell: Tell) -> float:
    return (8.0 if text in LEGEND_EVENTS else 14.0) + text_width(tell(said(text)), 6.4) + 12.0


def _legend(drawing: Drawing, rows: list[list[str]], left: float, top: float, tell: Tell) -> None:
    for index, row in enumerate(rows):
        x, y = left, top + LEGEND_ROW * index
        for text in row:
            kind = LEGEND_EVENTS.get(text)
            if kind is not None:
                _event(drawing, Event(0.0, kind, ""), x + 2.5, y - (BAR / 2.0 if kind == "check" else 0.0))
            elif text == "on hold":
                drawing.line(x, y, x + 11.0, y, stroke="accent", width=1.0, dashes="2 1.6")
            else:
                fill, edge = FILLS[text]
                dashes = "2 1.2" if text == "void" else ""
                drawing.rect(x, y - 3.2, 11.0, 6.0, fill=fill, stroke=edge, line=0.6, dashes=dashes)
            drawing.text_beside(x + (8.0 if kind else 14.0), y, tell(said(text)), size=6.4, fill="muted")
            x += _legend_width(text, tell)
