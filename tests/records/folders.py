"""Survey folders for tests: the examples, copies of them to change, and people."""

import csv
import shutil
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"


def copied(name, tmp_path, *, to="folder"):
    """A copy of an example that a test may change."""
    return Path(shutil.copytree(EXAMPLES / name, tmp_path / to))


def changed_cell(folder, file, row, column, text):
    """Write another text into one cell of a table; row 2 is the first below the header."""
    path = folder / file
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.reader(lines))
    rows[row - 1][rows[0].index(column)] = text
    with path.open("w", encoding="utf-8", newline="") as lines:
        csv.writer(lines, lineterminator="\n").writerows(rows)
    return path


def without_places(value):
    """Open data of an assessment without the texts that say where something was read, and without the input's hash."""
    if isinstance(value, dict):
        return {name: without_places(item) for name, item in value.items() if name not in ("origin", "input_sha256")}
    if isinstance(value, list):
        return [without_places(item) for item in value]
    return value
