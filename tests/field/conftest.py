"""Tests of the field use the log's own test entries."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "records"))


@pytest.fixture(autouse=True)
def collected(static_files):
    """Whatever is shown, also that something is not there, names static files."""
