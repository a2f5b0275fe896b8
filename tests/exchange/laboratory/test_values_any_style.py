"""A value written in any style comes back as the same number, unit and qualifier, or as a doubt; never as another."""

from datetime import date
from decimal import Decimal

from hypothesis import example, given, settings
from hypothesis import strategies as st

from lapel.exchange.laboratory.days import DayDoubt, day_of
from lapel.exchange.laboratory.numbers import Doubtful, Marks, is_number, marks_of, number
from lapel.exchange.laboratory.unit_words import heading_unit, known_unit
from lapel.exchange.laboratory.values import Doubt, value_of

VALUES = st.decimals(min_value=Decimal("0.0001"), max_value=Decimal("9999999"), places=4).map(lambda v: v.normalize())
GROUPS = {
    "none": "",
    "point": ".",
    "comma": ",",
    "blank": " ",
    "no-break": "\u00a0",
    "thin": "\u202f",
    "apostrophe": "'",
}


@st.composite
def styles(draw):
    comma = draw(st.booleans())
    group = draw(st.sampled_from(sorted(GROUPS)))
    if group == ("comma" if comma else "point"):
        group = "none"
    return comma, GROUPS[group]


def written(value, style, places=None):
    """A number as a person of some country writes it."""
    comma, group = style
    text = f"{value:f}" if places is None else f"{value:.{places}f}"
    whole, _, fraction = text.partition(".")
    grouped = f"{int(whole):,}".replace(",", group) if group else whole
    return grouped + (("," if comma else ".") + fraction if fraction else "")


def readings(text, marks):
    """The number, or both it may be."""
    try:
        return (number(text, marks),)
    except Doubtful as doubt:
        return doubt.readings


@settings(max_examples=600, deadline=None)
@given(st.lists(VALUES, min_size=1, max_size=12), styles())
@example([Decimal("1.234")], (True, ""))
@example([Decimal("1234")], (False, ","))
@example([Decimal("1234"), Decimal("0.5")], (False, ","))
@example([Decimal("1.234"), Decimal("0.5")], (False, ""))
def test_a_column_of_numbers_in_one_style_comes_back_or_is_doubted(values, style):
    """In a file of one style a number is right, or doubted with the right one among its readings."""
    texts = [written(value, style) for value in values]
    marks = marks_of(texts)
    for value, text in zip(values, texts, strict=True):
        assert value in readings(text, marks)


@settings(max_examples=600, deadline=None)
@given(st.lists(st.tuples(VALUES, styles()), min_size=1, max_size=8))
def test_even_mixed_styles_never_give_a_number_that_is_neither_reading(pairs):
    """One sheet with the habits of two people: what can only be read one way is, the rest is doubted."""
    texts = [written(value, style) for value, style in pairs]
    marks = marks_of(texts)
    for (value, _), text in zip(pairs, texts, strict=True):
        found = readings(text, marks)
        if value not in found:  # only where the sheet itself shows the other habit, and this cell alone could be both
            assert any(is_number(other) and other != text for other in texts)
            alone = marks_of([text])
            assert alone.decimal is None


@settings(max_examples=500, deadline=None)
@given(
    VALUES,
    st.booleans(),
    st.sampled_from(["", "<", "< ", "≤", "<="]),
    st.sampled_from(["", " U", "U", " J", " B", "*"]),
    st.sampled_from(["", " µg", " ug", " mg", "ng", " mg/m3"]),
)
def test_signs_letters_and_units_around_a_number_are_kept(value, comma, sign, letter, unit):
    text = f"{sign}{written(value, (comma, ''))}{unit}{letter}"
    marks = Marks("comma" if comma else "point")
    found = value_of(text, marks, {})
    if isinstance(found, Doubt):
        assert found.text
        return
    assert found.number == value
    below = sign.strip() != "" or letter.strip() == "U"
    assert found.sense == ("below" if below else "exactly")
    assert (found.unit != "") == (unit != "")
    if unit:
        assert known_unit(found.unit) == known_unit(unit)
    assert found.flags == ((letter.strip(),) if letter else ())


@settings(max_examples=400, deadline=None)
@given(st.text(max_size=30))
def test_any_text_is_a_value_or_a_doubt_and_never_a_crash(text):
    found = value_of(text, Marks(None), {})
    if not isinstance(found, Doubt) and found.number is not None:
        assert any(sign.isdigit() for sign in text)
        assert found.number >= 0


@settings(max_examples=400, deadline=None)
@given(
    st.dates(min_value=date(2000, 1, 1), max_value=date(2099, 12, 31)),
    st.sampled_from(["%Y-%m-%d", "%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y", "%d-%b-%Y", "%B %d, %Y", "%d %B %Y", "%Y%m%d",
                     "%d.%m.%y", "%m/%d/%y", "%y-%m-%d", "%Y/%m/%d", "%Y-%m-%d %H:%M", "%d/%m/%Y %H:%M"]),
)  # fmt: skip
def test_a_day_in_any_order_comes_back_or_is_doubted_with_it_among_the_readings(day, shape):
    found = day_of(day.strftime(shape), None)
    if isinstance(found, DayDoubt):
        assert day in found.readings
    else:
        assert found == day


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(["Front", "Mass found", "Reporting limit", "Toluene back", "Amount"]),
    st.sampled_from([("µg", "ug"), ("ug", "ug"), ("mg", "mg"), ("ng", "ng"), ("µg/sample", "ug"), ("mg/m³", "mg/m3"),
                     ("ppm", "ppm"), ("micrograms", "ug"), ("µg/m3", "ug/m3")]),
    st.sampled_from(["{} ({})", "{}, {}", "{} [{}]", "{} in {}", "{} {}", "{}: {}"]),
)  # fmt: skip
def test_a_unit_anywhere_in_a_heading_is_that_unit(words, unit, shape):
    found, rest = heading_unit(shape.format(words, unit[0]))
    assert found is not None
    assert found.name == unit[1]
    assert rest == words
