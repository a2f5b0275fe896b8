"""A copy of an example folder that a test may damage, and short ways to do so."""

import csv
import shutil
from pathlib import Path

from lapel.exchange import InputProblem, InputProblems, read_survey

EXAMPLES = Path(__file__).parents[2] / "examples"


class Copied:
    """One example, copied."""

    def __init__(self, root: Path, example: str = "small") -> None:
        self.root = root / example
        shutil.copytree(EXAMPLES / example, self.root)

    def rows(self, name: str) -> list[dict[str, str]]:
        with (self.root / name).open(newline="", encoding="utf-8") as file:
            return list(csv.DictReader(file))

    def write(self, name: str, rows: list[dict[str, str]]) -> None:
        columns = list(dict.fromkeys(column for row in rows for column in row))
        with (self.root / name).open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)

    def set(self, name: str, row: int, **cells: str) -> "Copied":
        """Change cells of a row, counted as the reader counts (the header is row 1)."""
        rows = self.rows(name)
        rows[row - 2].update(cells)
        self.write(name, rows)
        return self

    def add(self, name: str, **cells: str) -> "Copied":
        rows = self.rows(name) if (self.root / name).exists() else []
        self.write(name, [*rows, cells])
        return self

    def replace(self, name: str, before: str, after: str) -> "Copied":
        text = (self.root / name).read_text(encoding="utf-8")
        assert before in text
        (self.root / name).write_text(text.replace(before, after), encoding="utf-8")
        return self

    def faults(self) -> list[InputProblem]:
        try:
            read_survey(self.root)
        except InputProblems as problems:
            return list(problems)
        return []

    def only_fault(self) -> InputProblem:
        found = self.faults()
        assert len(found) == 1, [str(problem) for problem in found]
        return found[0]
