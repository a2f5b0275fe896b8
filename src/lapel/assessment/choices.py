"""Choices behind a result that somebody else could defend differently."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapel.assessment.inputs import LimitChoice
from lapel.assessment.results import SampleResult
from lapel.assessment.sample import BlankUse
from lapel.hygiene.flow import FlowRule
from lapel.hygiene.shift import Unsampled
from lapel.said import said

OTHER_FLOWS: tuple[tuple[FlowRule, str], ...] = (
    ("lower", said("the lower flow, before or after")),
    ("higher", said("the higher flow, before or after")),
    ("mean", said("the mean flow")),
)
"""Flows that can stand for a run, in words; the one chosen is no other choice."""

BLANK_LEFT_IN = said("the blank left in")


@dataclass(frozen=True, slots=True)
class Choices:
    """The choices behind an average that somebody else could defend differently."""

    flow_rule: FlowRule
    blank_use: BlankUse = "subtract"
    unsampled: Unsampled | None = None
    with_void: bool = False
    air_changed_within: bool = False


def we_subtracted(result: SampleResult) -> bool:
    """Whether a blank that was found is taken off in the working of this mass, here and not at the laboratory."""
    if result.blank is None or result.blank.sense == "at most" or result.mass is None:
        return False
    derivation = result.mass.derivation
    return derivation is not None and derivation.inputs.get("blank_ug") is result.blank


def no_figure(limit: LimitChoice, results: Sequence[SampleResult]) -> str:
    """Why there is nothing in the unit of a limit."""
    agent = results[0].agent
    if limit.unit == "ppm" and agent.molar_mass is None:
        return said("the limit is in ppm and no molar mass of {agent} is stated", agent=agent.name)
    return said("no concentration in {unit} could be worked out", unit=limit.unit)
