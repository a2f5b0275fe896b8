"""What holds for every chart: well formed, named for those who do not see it, nothing beyond its sheet."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.pictures.palette import COLOURS
from tests.pictures.charts import EVERY_CHART

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "</text><script>alert(1)</script> & \"quotes\" 'x' \u202e \x00 שלום 😀 汉 " + "W" * 300


@pytest.mark.parametrize("chart", EVERY_CHART)
@pytest.mark.parametrize("page", [False, True])
def test_hostile_texts_leave_it_well_formed(chart, page):
    root = ET.fromstring(chart(HOSTILE).svg(page=page))
    assert root.tag == f"{SVG}svg"
    assert not [element for element in root.iter() if element.tag.lower().endswith("script")]


@pytest.mark.parametrize("chart", EVERY_CHART)
def test_it_has_a_role_a_name_and_words(chart):
    root = ET.fromstring(chart("Toluene").svg(page=True, key="c1"))
    assert root.get("role") == "img"
    assert root.get("aria-label") == "Toluene"
    assert root.find(f"{SVG}title").text == "Toluene"
    described = root.find(f"{SVG}desc")
    assert described.get("id") == root.get("aria-describedby") == "c1-words"
    assert len(described.text) > 20


@pytest.mark.parametrize("chart", EVERY_CHART)
def test_marks_with_words_take_the_focus_on_a_page_and_say_them(chart):
    root = ET.fromstring(chart("Toluene").svg(page=True))
    named = [
        element for element in root.iter() if element.tag != f"{SVG}svg" and element.find(f"{SVG}title") is not None
    ]
    assert named
    assert all(element.get("tabindex") == "0" for element in named)
    assert all(element.find(f"{SVG}title").text for element in named)


@pytest.mark.parametrize("chart", EVERY_CHART)
@pytest.mark.parametrize("page", [False, True])
def test_every_colour_is_printed_as_it_is_and_says_what_it_means(chart, page):
    """A page's content security policy takes no style, in an attribute or an element."""
    text = chart("Toluene").svg(page=page)
    assert "style" not in text
    assert "var(" not in text
    painted = 0
    for element in ET.fromstring(text).iter():
        classes = (element.get("class") or "").split()
        for what in ("fill", "stroke"):
            colour = element.get(what)
            if colour not in (None, "none"):
                painted += 1
                assert [COLOURS[name.removeprefix(f"{what}-")] for name in classes if name.startswith(f"{what}-")] == [
                    colour
                ]
    assert painted


def no_text_leaves_the_sheet(drawing):
    for text in drawing.texts():
        left, top, right, bottom = text.extent()
        assert left >= -0.01, text
        assert right <= drawing.width + 0.01, text
        assert top >= -0.6, text  # the ascender's own white
        assert bottom <= drawing.height + 0.01, text


@pytest.mark.parametrize("chart", EVERY_CHART)
@pytest.mark.parametrize("text", ["T", "Toluene", "a rather long name of an agent and its limit", HOSTILE])
def test_no_text_leaves_the_sheet(chart, text):
    no_text_leaves_the_sheet(chart(text))


@given(st.sampled_from(EVERY_CHART), st.text(max_size=60), st.floats(236.0, 900.0))
def test_no_text_leaves_the_sheet_whatever_it_says(chart, text, width):
    drawing = chart(text, width=width)
    no_text_leaves_the_sheet(drawing)
    ET.fromstring(drawing.svg())
