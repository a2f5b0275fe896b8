"""Air volumes of a survey's samplers alone, for checks that need no results."""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from lapel.assessment.bench import FlowBench
from lapel.assessment.inputs import Survey
from lapel.assessment.place_air import PlaceAir
from lapel.assessment.sample import air_drawn, drawn_segments
from lapel.fieldlog.state import Day
from lapel.hygiene.flow import FlowRule
from lapel.hygiene.rulebook import RuleBook


def volumes_of(
    survey: Survey, day: Day, book: RuleBook, *, progress: Callable[[str, int, int], None] | None = None
) -> dict[str, float | None]:
    """
    Air volume of every sampler ordered, worked out as an assessment does. [L]

    Returns
    -------
    dict of str to float or None
        None where a flow or a time is not known.
    """
    bench = FlowBench(survey.meters, PlaceAir(survey.site, day.conditions))
    volumes: dict[str, float | None] = {}
    for done, code in enumerate(survey.orders):
        if progress is not None and done % 500 == 0:
            progress("working out the volumes", done, len(survey.orders))
        run = day.runs.get(code)
        drawn = drawn_segments(run, bench) if run else ()
        volume = air_drawn(drawn, bench, rule=cast(FlowRule, book.flow_rule), basis=book.change_basis).volume
        volumes[code] = volume.value if volume is not None else None
    return volumes
