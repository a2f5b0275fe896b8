"""Reports of the hard example with something wrong in them, as bytes of a workbook."""

from __future__ import annotations

import io

from openpyxl import load_workbook

EXCHANGED = ("G-101", "G-121")
"""Two samplers of other shifts whose masses `with_masses_exchanged` puts in each other's place."""
MASSES = range(1, 7)
"""Columns of the masses in report GA-4821, from 0: toluene, n-hexane and benzene, front and back."""


def with_masses_exchanged(content: bytes) -> bytes:
    """
    Exchange the masses of two samplers of report GA-4821.

    The second one first gets thirty times its toluene and a tenth of its n-hexane, another blend than the first
    one's companion port saw: so that the exchange can be told at all.
    """
    book = load_workbook(io.BytesIO(content))
    rows = {row[0].value: row for row in book.active.iter_rows() if row[0].value in EXCHANGED}
    one, other = (rows[code] for code in EXCHANGED)
    other[1].value *= 30
    other[3].value /= 10
    for column in MASSES:
        one[column].value, other[column].value = other[column].value, one[column].value
    changed = io.BytesIO()
    book.save(changed)
    return changed.getvalue()
