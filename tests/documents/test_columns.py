"""Column widths: the table fills its room, numbers keep theirs, long texts give way."""

import json

import pytest
import typst
from hypothesis import given
from hypothesis import strategies as st

from lapel.documents.columns import PADDING, column_widths, tabular_width
from lapel.pictures.lettering import FONTS, text_width

HEAD = ("Sample", "min", "Agent", "Because")


@given(st.lists(st.tuples(st.text(max_size=80), st.integers(0, 10**6), st.text(max_size=200), st.text()), max_size=12))
def test_widths_fill_the_room_and_no_number_is_cut(rows):
    cells = [[a, str(n), b, c] for a, n, b, c in rows]
    widths = [float(width) for width in column_widths(HEAD, cells, size=7.0, room=400.0, free=3)]
    assert sum(widths) == pytest.approx(400.0, abs=0.05)
    assert widths[3] >= 59.9
    for row in cells:
        assert widths[1] + 0.01 >= tabular_width(row[1], 7.0) + PADDING


def test_a_short_table_gives_each_column_its_widest_text():
    cells = [["G-101", "241", "Toluene", ""], ["G-102 again", "9", "n-Hexane", ""]]
    widths = [float(width) for width in column_widths(HEAD, cells, size=7.0, room=700.0, free=3)]
    assert widths[0] == pytest.approx(tabular_width("G-102 again", 7.0) + PADDING, abs=0.01)
    assert widths[2] == pytest.approx(text_width("n-Hexane", 7.0) + PADDING, abs=0.01)


def test_cells_are_as_wide_as_the_typesetter_sets_them():
    """With kerning, which only draws letters together or a hair apart."""
    cells = ["29.95 mL/min", "0.294 ± 0.045 mg/m³", "−15.2 %", "1111", "10-29 06:01 to 10:02"]
    source = (
        '#set text(font: ("Inter", "DejaVu Sans"), size: 100pt, number-width: "tabular")\n'
        '#context [#metadata(json("cells.json").map(words => measure(text(words)).width.pt())) <widths>]'
    )
    sources = {"main.typ": source.encode(), "cells.json": json.dumps(cells).encode()}
    found = typst.query(sources, "<widths>", field="value", one=True, font_paths=[str(FONTS)], ignore_system_fonts=True)
    for words, width in zip(cells, json.loads(found), strict=True):
        assert tabular_width(words, 100.0) == pytest.approx(width, rel=0.015), words
