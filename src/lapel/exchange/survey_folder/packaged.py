"""Packaged limits as rows of limits.csv, by the key a survey names them with."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def packaged_limits() -> Mapping[str, Mapping[str, Any]]:
    """Return the packaged limits by key; each has the columns of limits.csv, and the substance's CAS number."""
    return {}
