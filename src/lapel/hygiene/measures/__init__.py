"""What rules can ask of a sample: one small function a measure, gathered here by name."""

from lapel.hygiene.measures import against_limit, flow, laboratory, run
from lapel.hygiene.measures.measure import CLAIM, MEASURES, NOT_RECORDED, Answer, Measure, Measured

__all__ = [
    "CLAIM",
    "MEASURES",
    "NOT_RECORDED",
    "Answer",
    "Measure",
    "Measured",
    "against_limit",
    "flow",
    "laboratory",
    "run",
]
