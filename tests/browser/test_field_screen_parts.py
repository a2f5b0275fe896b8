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


SPOKEN = """(() => {
  const tongue = () => document.documentElement.lang;
  localStorage.removeItem('lapel-language');
  const heard = given.map((tags) => (m.speak(tags), [tongue(), document.title, m.say('more.log', { n: 1 })]));
  m.keepLanguage('es');
  m.speak(['en']);
  m.speakAsChosen();
  const told = ['misread', 'Belt 2 stood still'].map(m.tell);
  const kept = [tongue(), m.languageKept(), m.say('more.log', { n: 2 }), ...told];
  m.keepLanguage('');
  return [heard, kept, [tongue(), m.languageKept()]];
})()"""


def test_the_page_speaks_the_first_language_it_has_and_keeps_what_was_chosen(page):
    tongues = [["es-MX", "en"], ["de", "es"], ["fr"], ["en-GB", "es"], []]
    heard, kept, again = ask(page, "screens/words.js", SPOKEN, tongues)
    assert [one[0] for one in heard] == ["es", "es", "en", "en", "en"]
    assert heard[0][1:] == ["Campo – Lapel", "1 anotación"]
    assert heard[2][1:] == ["Field – Lapel", "1 entry"]
    assert kept == ["es", "es", "2 anotaciones", "mal leído", "Belt 2 stood still"]
    assert again == ["en", ""]


NESTED = """(async () => {
  const { said, small } = await import('http://localhost/at/said.js');
  m.speak(['es']);
  const how = said('the valve was touched');
  const ports = said('Ports {names}', { names: 'B, C' });
  const sentence = said('{how} at {time}', { time: '06:10' }, { how });
  const template = '{up} up while {down} down: the total is held, not the suction. ' +
    'Constant-flow mode, or a controller that sags.';
  const traded = said(template, {}, { up: said('Port {names}', { names: 'A' }), down: small(ports) });
  const typed = said('{sampler} is packed in parcel {parcel} and in parcel {other}.',
    { sampler: 'the valve was touched', parcel: '{other}', other: 'K' });
  return [sentence, m.tell(sentence), small(ports), m.tell(traded), typed, m.tell(typed)];
})()"""


def test_a_sentence_in_a_sentence_is_told_too_and_what_was_typed_stays(page):
    english, spanish, ports, traded, typed, typed_told = ask(page, "screens/words.js", NESTED)
    assert english == "the valve was touched at 06:10"
    assert spanish == "se tocó la válvula el 06:10"
    assert ports == "ports b, c"
    assert traded.startswith("Toma A: más caudal; tomas B, C: menos caudal.")
    assert typed == "the valve was touched is packed in parcel {other} and in parcel K."
    assert typed_told == "the valve was touched está en el paquete {other} y en el paquete K."


@pytest.mark.parametrize(
    ("expiry", "now", "zone", "is_said"),
    [
        ("2026-05-13", "2026-05-14T06:00:00Z", "UTC", True),
        ("2026-05-14", "2026-05-14T06:00:00Z", "UTC", False),  # good until its day is over, as at the office
        ("2026-05-14", "2026-05-14T23:30:00Z", "Europe/Berlin", True),  # where it is the 15th
        ("2026-05-14", "2026-05-15T03:00:00Z", "America/New_York", False),
        ("", "2026-05-14T06:00:00Z", "UTC", False),
    ],
)
def test_a_lot_is_good_until_its_day_is_over_at_the_place(page, expiry, now, zone, is_said):
    call = """import('http://localhost/at/screens/words.js').then(({ speak }) => {
        speak(['en']);
        return m.objections({ now: Date.parse(given.now), zone: given.zone, view: { day: { blanks: {} } } },
            { code: 'S-1', as: 'spare', medium: 'charcoal', lot: '', where: '', order: null },
            { code: 'S-1', medium: 'charcoal', lot: 'L1', expiry: given.expiry, isUsed: false });
    })"""
    found = ask(page, "screens/fitting.js", call, {"now": now, "zone": zone, "expiry": expiry})
    assert found == ([f"Its lot expired {expiry}."] if is_said else [])


def test_what_one_tap_kept_is_taken_back_as_a_whole_the_last_first(page):
    call = """(async () => {
        const recorded = [];
        const desk = new m.Desk({ recordAll: async (acts) => { recorded.push(...acts); return acts } }, () => {});
        await desk.undo(['e1', 'e2', 'e3']);
        return recorded;
    })()"""
    found = ask(page, "screens/desk.js", call)
    assert [one["corrects"] for one in found] == ["e3", "e2", "e1"]
    assert {(one["kind"], one["fields"]["withdraw"], one["reason"]) for one in found} == {
        ("correction", "yes", "tapped by mistake")
    }


READ_ON_A_PORT = """import('http://localhost/at/screens/words.js').then(({ speak }) => {
    speak(['en']);
    const kept = [];
    const port = { port: 'B', target_text: given.target, window: { low_lpm: null, high_lpm: null }, setting: [] };
    const readings = given.last ? [{ port: 'B', phase: 'setting', reading: '0.05', unit: given.last }] : [];
    const meter = { code: 'M-1', kind: given.meter };
    const day = { trains: { 'T-1': { preparations: { 1: { readings } } } } };
    const units = { temperature_unit: '°C', pressure_unit: 'kPa' };
    const air = { temperature: '21', pressure: '101', humidity_percent: '', ...units };
    const desk = {
      now: 0, place: { meter: 'M-1', basis: 'actual', air_at: '1970-01-01T00:00Z', ...air },
      view: { day, entries: [], pack: { meters: [meter] } },
      draft: (name, first) => ({ ...first, text: '0.052' }),
      keep: (acts, words) => kept.push([acts[0].fields, words]),
    };
    const train = { code: 'T-1', preparation: 1 };
    const screen = m.takeReadings(desk, train, { phase: 'setting', ports: [port], wanted: 3 });
    desk.pad.keep();
    const within = (one) => [one, ...(one.children ?? []).flatMap(within)];
    const shown = screen.flatMap(within).find((one) => one.props?.class === 'shown-unit');
    return kept.map((one) => [...one, shown.children.join('')]);
})"""


@pytest.mark.parametrize(
    ("last", "target", "unit"),
    [
        ("L/min", "52 mL/min", "L/min"),  # as it was read last, whatever is wanted
        ("cc/min", "", "cc/min"),
        ("", "0.052 L/min", "L/min"),  # else as the flow wanted is written
        ("", "52 mL/min", "mL/min"),
        ("", "", "mL/min"),
    ],
)
def test_a_reading_is_kept_in_the_unit_the_pad_shows(page, last, target, unit):
    given = {"last": last, "target": target, "meter": "piston"}
    ((fields, words, shown),) = ask(page, "screens/readings.js", READ_ON_A_PORT, given)
    assert (fields["reading"], fields["unit"], shown) == ("0.052", unit, unit)
    assert f"0.052 {unit}" in words


def test_a_burette_is_read_in_seconds_for_its_volume_and_in_no_unit_of_flow(page):
    given = {"last": "L/min", "target": "52 mL/min", "meter": "burette"}
    ((fields, words, shown),) = ask(page, "screens/readings.js", READ_ON_A_PORT, given)
    assert (fields["volume"], fields["volume_unit"], fields["seconds"], shown) == ("100", "mL", "0.052", "s")
    assert "unit" not in fields
    assert "100 mL / 0.052 s" in words
