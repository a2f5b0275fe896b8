"""The small parts of the field screens, each by itself: near keys, the pad, labels, calibration tubes, drawing."""

import re
from itertools import pairwise

import pytest
from field_modules import ask, open_modules
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st


@pytest.fixture(scope="module")
def page(chromium):
    context, page = open_modules(chromium)
    yield page
    context.close()


def near(page, text):
    return ask(page, "screens/pad.js", "m.nearValues(given)", text)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("30.1", ["29.7", "29.8", "29.9", "30.0", "30.1", "30.2", "30.3", "30.4", "30.5"]),
        ("95", ["91", "92", "93", "94", "95", "96", "97", "98", "99"]),
        ("0.02", ["0.00", "0.01", "0.02", "0.03", "0.04", "0.05", "0.06", "0.07", "0.08"]),
        ("", []),
        ("about 30", []),
    ],
)
def test_the_near_keys_are_the_nine_values_around_at_the_same_fineness(page, text, values):
    assert near(page, text) == values


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.decimals(min_value=5, max_value=9999, places=2))
def test_near_keys_hold_the_value_itself_in_the_middle_and_step_by_its_last_digit(page, value):
    values = near(page, str(value))
    assert len(values) == 9
    assert values[4] == str(value)
    steps = {round(float(b) - float(a), 6) for a, b in pairwise(values)}
    assert steps == {0.01}


def test_the_pad_types_what_a_reading_can_be_and_nothing_else(page):
    def after(signs):
        return ask(page, "screens/pad.js", "[...given].reduce((text, sign) => m.typed(text, sign), '')", signs)

    assert after("30.1") == "30.1"
    assert after("..5") == "0.5"
    assert after("007") == "7"
    assert after("1.2.3") == "1.23"
    assert len(after("1234567890123")) <= 7


@pytest.mark.parametrize(
    ("label", "code"),
    [
        ("G-101", "G-101"),
        (" G-101 ", "G-101"),
        ("https://office.example/samples/G-101", "G-101"),
        ("A/B-7", "A/B-7"),
    ],
)
def test_a_label_is_the_samplers_number_alone_or_at_the_end_of_an_address(page, label, code):
    assert ask(page, "screens/scan.js", "m.codeOn(given)", label) == code


def test_one_calibration_tube_serves_two_lots_only_where_their_catalogue_number_is_the_same(page):
    media = [
        {"lot": "L1", "catalogue": "CT-1"},
        {"lot": "L2", "catalogue": "CT-1"},
        {"lot": "L3", "catalogue": "CT-2"},
        {"lot": "L4", "catalogue": ""},
        {"lot": "L5", "catalogue": ""},
    ]

    def may(one, other):
        return ask(page, "screens/prepare_tubes.js", f"m.mayServe({{ media: given }}, '{one}', '{other}')", media)

    assert may("L1", "L2")
    assert may("L4", "L4")
    assert not may("L1", "L3")
    assert not may("L4", "L5")  # nobody said: not the same
    assert not may("", "")


def test_drawing_again_changes_what_differs_and_leaves_the_element_under_the_finger(page):
    same = ask(
        page,
        "screens/drawing.js",
        """(() => {
          const root = document.createElement('div');
          const seen = [];
          const button = (n) => m.h('button', { on: { click: () => seen.push(n) } }, `tapped ${n}`);
          const screen = (n) => (n > 1 ? [button(n), 'more'] : [button(n)]);
          m.draw(root, screen(1));
          const first = root.firstChild;
          m.draw(root, screen(2));
          root.firstChild.click();
          return [root.firstChild === first, root.textContent, seen];
        })()""",
    )
    assert same == [True, "tapped 2more", [2]]


def test_a_reading_is_rounded_for_the_eye_only_and_says_its_sign(page):
    shown = ask(
        page, "screens/telling.js", "[m.changeText(-0.1307), m.changeText(0.0231), m.flowText(0.0301), m.plainText(30)]"
    )
    assert [re.sub("\u00a0", " ", text) for text in shown] == ["−13.1 %", "+2.3 %", "30.1 mL/min", "30"]
