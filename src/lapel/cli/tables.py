"""Tables for a terminal of any width: what does not fit is left out whole, and said, never cut off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rich.cells import cell_len
from rich.console import Console
from rich.table import Table
from rich.text import Text

FEW = 0.8
"""Part of the cells of a column kept mostly whole that fit on one line."""

GAP = 2
"""Blanks between two columns."""


@dataclass
class Column:
    """
    One column and its cells.

    Attributes
    ----------
    name : str
        Its heading.
    spare : int
        0 for a column that always stays; of the others the highest goes first where the width does not do.
    right, wraps, mostly_whole : bool
        Set to the right; may break between words; may, but only where few of its cells need it.
    """

    name: str
    spare: int = 0
    right: bool = False
    wraps: bool = False
    mostly_whole: bool = False
    cells: list[Text] = field(default_factory=list)

    def narrowest(self) -> int:
        """Columns of the terminal it cannot do without: its longest cell, or its longest word where it wraps."""
        texts = [self.name, *(cell.plain for cell in self.cells)]
        lengths = sorted(cell_len(text) for text in texts)
        if not self.wraps:
            return lengths[-1]
        longest_word = max((cell_len(word) for text in texts for word in text.split()), default=1)
        return max(longest_word, lengths[int(FEW * (len(lengths) - 1))]) if self.mostly_whole else longest_word


def fill(columns: Sequence[Column], *cells: str | Text) -> None:
    """Add a row."""
    for column, cell in zip(columns, cells, strict=True):
        column.cells.append(cell if isinstance(cell, Text) else Text(cell))


def print_table(console: Console, title: str, columns: Sequence[Column]) -> list[str]:
    """Print a table as wide as the terminal allows; name the columns that had no room, return those that had."""
    kept = list(columns)
    spare = sorted((column for column in columns if column.spare), key=lambda column: -column.spare)
    while spare and _width(kept) > console.width:
        kept.remove(spare.pop(0))
    table = Table(title=Text(title, style="bold"), title_justify="left", box=None, pad_edge=False, show_edge=False)
    for column, width in zip(kept, _widths(kept, console.width), strict=True):
        table.add_column(Text(column.name), justify="right" if column.right else "left", width=width, overflow="fold")
    for cells in zip(*(column.cells for column in kept), strict=True):
        table.add_row(*cells)
    console.print(table)
    left_out = [column.name for column in columns if column not in kept]
    if left_out:
        console.print(f"No room for: {', '.join(left_out)}. A wider window, --json and --pdf have them.", style="dim")
    return [column.name for column in kept]


def _widths(columns: Sequence[Column], room: int) -> list[int | None]:
    """Width of each column: what it needs, and what is left over to those that still wrap most."""
    widths = [column.narrowest() for column in columns]
    lengths = [[cell_len(cell.plain) for cell in column.cells] for column in columns]
    left = room - GAP * (len(columns) - 1) - sum(widths)
    if left < 0:
        return [None] * len(columns)  # narrower than the words themselves: left to the printer, which folds them
    while left > 0:
        over = [sum(max(0, n - width) for n in column) for column, width in zip(lengths, widths, strict=True)]
        if not any(over):
            break
        widths[over.index(max(over))] += 1
        left -= 1
    return list(widths)


def _width(columns: Sequence[Column]) -> int:
    return sum(column.narrowest() for column in columns) + GAP * (len(columns) - 1)
