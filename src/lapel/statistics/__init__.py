"""The science of a group: arrays in, arrays out; nothing of ours imported."""

from lapel.statistics.observed import Observations, observed

__all__ = [
    "Observations",
    "observed",
]
