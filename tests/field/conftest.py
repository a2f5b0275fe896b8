"""Tests of the field use the log's own test entries."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "records"))
