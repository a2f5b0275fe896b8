"""The judgement of a group as PDF: the honest sentence, the pictures, each test with its source."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from lapel import __version__
from lapel.assessment.group import GroupJudgement
from lapel.documents import compose_group
from lapel.documents.assessment_record import CONFIRM_LIMITS, NOT_CERTIFIED
from lapel.documents.cells import range_cell
from lapel.documents.render import Picture, rendered, write_whole
from lapel.figures import significant
from lapel.figures.rounding import display_unit
from lapel.pictures.posterior_density import Band, posterior_density
from lapel.pictures.probability_plot import FittedLine, PlottedResult, probability_plot
from lapel.said import Tell, as_it_is, said
from lapel.statistics import NoEstimate
from lapel.statistics.order_statistics import plotting_positions
from lapel.statistics.posterior import CATEGORY_BANDS

ABOUT_THE_GROUP = (
    "The judgement holds for the work, the season and the workers the results were taken from at random, and for a "
    "group whose exposures are lognormal. It says nothing of a worker or a task that was not sampled."
)
MOST_LISTED = 400
"""Results listed one by one; of more, the picture and the counts stand for them."""

UNDATED = date(2000, 1, 1)
"""Date in the properties of a judgement of results without dates: the same input must give the same bytes."""


def write_group_judgement(
    judgement: GroupJudgement, path: Path, *, source: str = "", dated: date | None = None
) -> None:
    """
    Write the judgement of a group.

    Parameters
    ----------
    judgement : GroupJudgement
        What `lapel.assessment.group.judge_group` found.
    path : Path
        Where the PDF goes. It is written whole or not at all.
    source : str
        Where the results were read from, for the reader.
    dated : datetime.date, optional
        Date in the document's properties; the last day of the results if left out.

    Raises
    ------
    DocumentNotWritten
        The place cannot be written to; what was there before is unchanged.
    """
    days = [day for day in judgement.days if day is not None]
    content = rendered(
        "group_judgement",
        judgement_data(judgement, source=source),
        title=f"Group judgement: {compose_group.title(judgement)}",
        dated=dated or max(days, default=UNDATED),
    )
    write_whole(content, Path(path))


def judgement_data(judgement: GroupJudgement, *, source: str = "") -> dict[str, Any]:
    """Everything the judgement says, as texts and pictures; the template only arranges them."""
    rows = judgement.results
    return {
        "group": judgement.name or "All results",
        "limit": judgement.limit_text,
        "counts": rows.in_words(),
        "sentence": compose_group.sentence(judgement),
        "outcome": compose_group.test_rows(judgement)[0].outcome,
        "belief": compose_group.belief(judgement),
        "prior_decides": judgement.prior_decides,
        "plot": plot_picture(judgement),
        "positions": POSITION_WORDS[rows_are_plain(judgement)],
        "density": density_picture(judgement),
        "believed": [list(row) for row in compose_group.believed_rows(judgement)],
        "estimates": [list(row) for row in compose_group.estimate_rows(judgement)],
        "tests": [
            {
                "rule": test.rule[:1].upper() + test.rule[1:],
                "outcome": test.outcome,
                "words": test.words,
                "source": test.source,
                "remarks": [remark if remark.endswith(".") else f"{remark}." for remark in test.remarks],
                "unread": "clause not re-read" in test.source,
            }
            for test in compose_group.test_rows(judgement)
        ],
        "shape": compose_group.shape_lines(judgement),
        "notes": list(judgement.notes),
        "workers": [list(row) for row in compose_group.worker_rows(judgement)],
        "worker_words": list(judgement.by_worker.words) if judgement.by_worker is not None else [],
        "prior": judgement.prior.describe(),
        "results": result_rows(judgement) if len(rows) <= MOST_LISTED else [],
        "unlisted": "" if len(rows) <= MOST_LISTED else f"{len(rows)} results are not listed one by one.",
        "cautions": [ABOUT_THE_GROUP, CONFIRM_LIMITS],
        "made": [
            ["Results from", source or "not from a file"],
            ["Calculated by", f"Lapel {__version__}"],
            ["Document", NOT_CERTIFIED],
        ],
    }


POSITION_WORDS = {
    True: "Plotting positions allow for every reporting limit; a non-detect is drawn from its limit downwards, and may "
    "lie anywhere there.",
    False: "Results known within bounds are drawn as their bounds, at positions by the rank of their middle.",
}


def rows_are_plain(judgement: GroupJudgement) -> bool:
    """Whether every result is measured or below a reporting limit."""
    rows = judgement.results
    return not bool(np.any(rows.is_within | rows.is_at_least))


def plot_picture(judgement: GroupJudgement, *, tell: Tell = as_it_is, height: float = 260.0) -> Picture:
    """Draw the results against normal probability, with the fitted line and the limit."""
    rows = judgement.results
    positions = plotting_positions(rows) if rows_are_plain(judgement) else _positions_by_rank(rows.lower, rows.upper)
    results = [
        PlottedResult(float(position), float(low), float(high), _result_cell(judgement, float(low), float(high)))
        for position, low, high in zip(positions, rows.lower, rows.upper, strict=True)
    ]
    line = None
    if not isinstance(judgement.fitted, NoEstimate):
        gm, gsd = judgement.fitted.gm.estimate, judgement.fitted.gsd.estimate
        words = said("Fitted line: GM {gm}, GSD {gsd}", gm=significant(gm), gsd=significant(gsd))
        line = FittedLine(gm, gsd, words)
    drawn = probability_plot(
        results,
        limit=judgement.limit,
        limit_text=judgement.limit_text,
        unit=display_unit(judgement.unit),
        line=line,
        height=height,
        name=tell(said("Results against normal probability")),
        tell=tell,
    )
    return Picture(drawn.svg(), drawn.words)


def _positions_by_rank(lower: np.ndarray, upper: np.ndarray) -> np.ndarray:
    """Blom's positions (i - 3/8)/(n + 1/4) by the middle of what is known of each result."""
    bounded = np.where(np.isinf(upper), lower, upper)
    middle = np.where(lower > 0.0, np.sqrt(lower * bounded), bounded / 2.0)
    ranks = np.empty(len(middle))
    ranks[np.argsort(middle, kind="stable")] = np.arange(1, len(middle) + 1)
    return (ranks - 0.375) / (len(middle) + 0.25)


def density_picture(judgement: GroupJudgement, *, tell: Tell = as_it_is, height: float = 190.0) -> Picture:
    """Draw the posterior of the 95th percentile beside the limit."""
    edges = [0.0, *CATEGORY_BANDS, float("inf")]
    labels = band_labels(CATEGORY_BANDS)
    chances = [text for _, text, _ in compose_group.band_rows(judgement)]
    bands = [
        Band(low, high, label, chance)
        for low, high, label, chance in zip(edges[:-1], edges[1:], labels, chances, strict=True)
    ]
    name = tell(said("Posterior of the 95th percentile"))
    drawn = posterior_density(judgement.density, bands, name=name, height=height, tell=tell)
    return Picture(drawn.svg(), drawn.words)


def band_labels(edges: tuple[float, ...]) -> list[str]:
    """Short names of the bands between edges: “< 1 %”, “1 to 10 %”, “> 100 %”."""
    texts = [f"{100 * edge:g}" for edge in edges]
    between = [range_cell(a, f"{b} %") for a, b in pairwise(texts)]
    return [f"< {texts[0]} %", *between, f"> {texts[-1]} %"]


def result_rows(judgement: GroupJudgement) -> list[list[str]]:
    """Each result: its number, worker, day, and what is known of it."""
    rows = judgement.results
    listed = []
    for index, (low, high) in enumerate(zip(rows.lower, rows.upper, strict=True)):
        worker = judgement.workers[index] if index < len(judgement.workers) else ""
        day = judgement.days[index] if index < len(judgement.days) else None
        known = _result_cell(judgement, float(low), float(high))
        listed.append([str(index + 1), worker or "–", day.isoformat() if day else "–", known])
    return listed


def _result_cell(judgement: GroupJudgement, low: float, high: float) -> str:
    unit = display_unit(judgement.unit)
    if low == high:
        return f"{low:g} {unit}"
    if low == 0.0:
        return f"< {high:g} {unit}"
    return f"≥ {low:g} {unit}" if high == float("inf") else range_cell(f"{low:g}", f"{high:g} {unit}")
