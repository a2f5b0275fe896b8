"""Column widths: the table fills its room, numbers keep theirs, long texts give way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.documents.columns import PADDING, column_widths
from lapel.pictures.lettering import printable, text_width

HEAD = ("Sample", "min", "Agent", "Because")


@given(st.lists(st.tuples(st.text(max_size=80), st.integers(0, 10**6), st.text(max_size=200), st.text()), max_size=12))
def test_widths_fill_the_room_and_no_number_is_cut(rows):
    cells = [[a, str(n), b, c] for a, n, b, c in rows]
    widths = [float(width) for width in column_widths(HEAD, cells, size=7.0, room=400.0, free=3)]
    assert sum(widths) == pytest.approx(400.0, abs=0.05)
    assert widths[3] >= 59.9
    for row in cells:
        assert widths[1] + 0.01 >= text_width(row[1], 7.0) + PADDING


def test_a_short_table_gives_each_column_its_widest_text():
    cells = [["G-101", "241", "Toluene", ""], ["G-102 again", "9", "n-Hexane", ""]]
    widths = [float(width) for width in column_widths(HEAD, cells, size=7.0, room=700.0, free=3)]
    assert widths[0] == pytest.approx(text_width("G-102 again", 7.0) + PADDING, abs=0.01)
    assert widths[2] == pytest.approx(text_width(printable("n-Hexane"), 7.0) + PADDING, abs=0.01)
