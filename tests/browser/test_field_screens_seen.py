"""
Every state of the field page, on a phone and a tablet, in every theme: accessible, nowhere wider than the screen, and
nothing to tap smaller than 48 px. With LAPEL_SCREENSHOTS the pictures are kept for people to look at.
"""

import re
from datetime import UTC, datetime, timedelta

import pytest
from field_day_acts import PORTS, act, hung_and_started, prepared, sampler_of
from field_screens import entries_of, record
from looking import grave, keep
from patience import PATIENCE_MS

THEMES = ("light", "dark", "outdoor")

TOO_SMALL = """() => [...document.querySelectorAll('button, select, input, textarea, summary')]
  .filter((one) => one.checkVisibility())
  .map((one) => [one.outerHTML.slice(0, 110), one.getBoundingClientRect()])
  .filter(([, box]) => box.width < 47.5 || box.height < 47.5)
  .map(([html, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: ${html}`)"""

CUT_OFF = """() => [...document.querySelectorAll('.action, .option, .key, .near-key, .mark, .part, .step-tab')]
  .filter((one) => one.checkVisibility() && one.scrollWidth > one.clientWidth + 1)
  .map((one) => one.outerHTML.slice(0, 140))"""


def ago(minutes):
    """An instant of the morning, as text."""
    return (datetime.now(UTC) - timedelta(minutes=minutes)).isoformat(timespec="milliseconds")


def at(acts, minutes):
    """The same acts, some minutes ago."""
    return [{**one, "at": ago(minutes)} for one in acts]


def renamed(acts, train):
    """The same acts for another train."""
    old = acts[0]["fields"]["train"]
    return [
        {
            **one,
            "fields": {
                name: train if value == old else value.replace(old[2:], train[2:]) if name == "sampler" else value
                for name, value in one["fields"].items()
            },
        }
        for one in acts
    ]


def a_day_in_every_stage():
    """Trains at every step of the day, those of the plan and some more."""
    steps = prepared("T-102")
    leaks = [act("leak_checked", train="T-103", port=port, passed="yes") for port in PORTS]
    whole = [*prepared("T-101"), *hung_and_started("T-101")]

    def leaks_of(train):
        return [{**one, "fields": {**one["fields"], "train": train}} for one in leaks]

    day = [
        *steps[:1],
        *prepared("T-103")[:2],
        *leaks,
        *prepared("T-104")[:5],
        *leaks_of("T-104"),
        *prepared("T-105")[:6],
        *leaks_of("T-105"),
        *prepared("T-106")[:-1],
        *leaks_of("T-106"),
        *prepared("T-107"),
        *prepared("T-108"),
        *hung_and_started("T-108")[:1],
        *prepared("T-109"),
        *hung_and_started("T-109")[:-1],
    ]
    day += at(renamed(whole, "T-111"), 95) + at([act("pump_checked", train="T-111", running="yes")], 70)
    day += at(renamed(whole, "T-112"), 240) + at([act("pump_held", train="T-112", why="drill", counter_min="200")], 40)
    day += at(renamed(whole, "T-113"), 300)
    stopped = act("pump_stopped", train="T-114", why="shift end", counter_min="281")
    day += at(renamed(whole, "T-114"), 300) + at([stopped], 15)
    for train, minutes in (("T-115", 420), ("T-116", 425), ("T-117", 430)):
        off = [
            act("sampler_removed", train=train, port=port, sampler=sampler_of(train, port), why="shift end")
            for port in PORTS
        ]
        stop = act("pump_stopped", train=train, why="shift end", counter_min="399")
        day += at(renamed(whole, train), minutes) + at([stop, *off], minutes - 400)
    for train in ("T-116", "T-117"):
        day += [
            act("flow_read", train=train, port=port, phase="post", meter="M-1", reading=flow, unit="mL/min")
            for port, flow in (("A", "30.0"), ("B", "30.6"), ("C", "93.0"))
            for _ in range(3)
        ]
    day.append(
        act("post_round", train="T-117", valve_touched="no", recharged="no", battery_changed="no", same_tubes="yes")
    )
    day.append(act("blank_opened", blank="G-151", use="field", lot="CH-7715", medium="charcoal 100/50"))
    return day


def seen(hand, name, width):
    """Look at a state in every theme."""
    page = hand.page
    for theme in THEMES:
        page.emulate_media(color_scheme="dark" if theme == "dark" else "light", reduced_motion="reduce")
        page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
        if theme == "light" or width == "phone":  # colours are the same at every width
            assert grave(page, only_colours=theme != "light") == [], f"{name}, {theme}"
        widest = page.evaluate("document.documentElement.scrollWidth")
        assert widest <= page.viewport_size["width"], f"{name}, {theme}: the page scrolls sideways, {widest} px"
        assert page.evaluate(TOO_SMALL) == [], f"{name}, {theme}"
        assert page.evaluate(CUT_OFF) == [], f"{name}, {theme}"
        keep(page, f"field-{name}-{width}-{theme}")


STEPS = [
    ("prepare", "prepare", []),
    ("pump", "prepare/T-101", []),
    ("pump-other", "prepare/T-101", ["Others"]),
    ("warm", "prepare/T-110", ["Yes, these"]),
    ("charged", "prepare/T-110", ["10 min"]),
    ("charged-pad", "prepare/T-110", ["Another time"]),
    ("leak", "prepare/T-102", []),
    ("leak-failed", "prepare/T-102", ["No, it leaks"]),
    ("tubes", "prepare/T-103", []),
    ("tubes-lot", "prepare/T-103", ["^CH-7715"]),
    ("set", "prepare/T-104", []),
    ("round", "prepare/T-105/round", ["All are set"]),
    ("round-question", "prepare/T-106", []),
    ("touched", "prepare/T-106", ["I touched a valve"]),
    ("ready", "prepare/T-107", []),
    ("kit", "kit/T-107", []),
    ("kit-port", "kit/T-107", ["Port A"]),
    ("add-train", "add-train", []),
    ("bench", "bench", []),
    ("bench-meter", "bench", ["Another meter"]),
    ("start", "start", []),
    ("hang", "start/T-107", []),
    ("fit", "start/T-108", []),
    ("fit-number", "start/T-108", [".by-number"]),
    ("go", "start/T-109", []),
    ("go-ports", "start/T-109", ["Only some ports"]),
    ("blank", "blank", []),
    ("run", "run", []),
    ("train", "run/T-111", []),
    ("train-held", "run/T-112", []),
    ("train-over", "run/T-113", []),
    ("check", "check/T-111", []),
    ("check-flow", "check-flow/T-111", []),
    ("pump-display", "pump-display/T-111", []),
    ("hold", "hold/T-111", []),
    ("hold-counter", "hold/T-111", ["Break"]),
    ("resume", "resume/T-112", []),
    ("tube", "tube/T-111", []),
    ("died", "trouble/T-111/pump-died", []),
    ("broke", "trouble/T-111/tube-broke", []),
    ("left", "trouble/T-111/worker-left", []),
    ("wrong", "trouble/T-111/wrong-tube", []),
    ("wrong-what", "trouble/T-111/wrong-tube", ["Port A"]),
    ("wrong-record", "trouble/T-111/wrong-tube", ["Port A", "The record"]),
    ("task", "trouble/T-111/task", []),
    ("stop", "stop", []),
    ("stop-now", "stop/T-111", []),
    ("tubes-off", "stop/T-114", []),
    ("questions", "stop/T-115", []),
    ("outcome", "stop/T-117", []),
    ("more", "more", []),
    ("day", "day", []),
    ("log", "log", []),
    ("log-train", "log/T-111", []),
    ("note", "note/T-111", []),
    ("parcel", "parcel", []),
    ("waiting", "waiting", []),
    ("who", "who", []),
    ("pairing", "pairing", []),
]


@pytest.mark.parametrize("width", ["phone", "tablet", "tablet-upright"])
def test_every_state_is_accessible_and_fits_in_every_theme(device, width):
    hand = device(width)
    record(hand, a_day_in_every_stage())
    hand.page.context.set_offline(True)
    record(hand, [act("note", about="T-111", text="Belt 2 stood still from 8 to half past")])
    for name, route, taps in STEPS:
        hand.go(*route.split("/"))
        for words in taps:
            if words.startswith("."):
                hand.page.locator(words).locator("summary").click()
            else:
                hand.tap(words)
        hand.at_rest()
        seen(hand, name, width)
    post_with_one_reading(hand, width)
    one_entry_corrected(hand, width)
    assert [said for said in hand.page.complaints if "ERR_INTERNET_DISCONNECTED" not in said] == []


def post_with_one_reading(hand, width):
    """The readings after the run, the first of them far off."""
    hand.go("stop", "T-115")
    for question, answer in enumerate(("Yes", "No", "No", "No")):
        hand.page.locator(".yes-no").nth(question).get_by_role("button", name=answer, exact=True).click()
    hand.tap("Read the ports")
    hand.type_on_pad("24.0")
    hand.kept("against before")
    seen(hand, "post-changed", width)


def one_entry_corrected(hand, width):
    """An entry of the log, put right."""
    hand.go("log")
    hand.page.locator(".log-line").filter(has_text=re.compile("Flow read")).first.click()
    hand.page.locator(".at-entry").wait_for()
    seen(hand, "entry", width)
    hand.tap("Correct the number")
    hand.tap("Misread")
    seen(hand, "entry-correct", width)
    hand.type_on_pad("30.4", "Correct")
    hand.kept("Corrected")
    seen(hand, "log-corrected", width)


IN_SPANISH = {
    "prepare": [],
    "charged": [],
    "leak-failed": ["No, hay fuga"],
    "round-question": [],
    "ready": [],
    "kit": [],
    "start": [],
    "fit": [],
    "blank": [],
    "run": [],
    "train-over": [],
    "check": [],
    "hold-counter": ["Descanso"],
    "wrong-record": ["Toma A", "Lo anotado"],
    "stop": [],
    "questions": [],
    "outcome": [],
    "more": [],
    "log-train": [],
    "waiting": [],
}
"""The steps that are looked at in Spanish, with their taps as that page calls them."""

ENGLISH = re.compile(
    r"\b(?:the|is|are|was|of|and|with|not|before|after|what|this|it|its|from|read|by|all|which|who|where"
    r"|ports?|pumps?|trains?|tubes?|hold|kept|keep|log|meter|flow|round|sampler|blank|parcel|stop|start|more|office)\b",
    re.IGNORECASE,
)

OF_PEOPLE = {"Coating, line 2, before the break", "Coating, line 2, after the break"}
"""Tasks as somebody wrote them."""

SPANISH_SEEN = """() => {
  const all = [...document.querySelectorAll('.frame *')].filter((one) => one.checkVisibility());
  const texts = (one) => [...one.childNodes].filter((node) => node.nodeType === 3).map((node) => node.data.trim());
  const names = (one) => ['aria-label', 'placeholder', 'title'].map((name) => one.getAttribute(name));
  const ours = all.filter((one) => !one.matches('.status-words, [lang=en]')); // the survey's title, a language's name
  const isCut = (one) => getComputedStyle(one).overflowX !== 'visible' && one.scrollWidth > one.clientWidth + 1;
  const isOut = ({ left, right }) => left < -1 || right > innerWidth + 1;
  const cut = ours.filter((one) => texts(one).some(Boolean))
    .filter((one) => isCut(one) || isOut(one.getBoundingClientRect()));
  const said = ours.flatMap((one) => [...texts(one), ...names(one)]).filter(Boolean);
  return [said, cut.map((one) => one.outerHTML.slice(0, 140))];
}"""


def test_the_page_speaks_spanish_on_the_phone_and_nothing_is_clipped(device):
    hand = device()
    record(hand, a_day_in_every_stage())
    hand.go("more")
    hand.tap("Español")
    hand.see("Idioma")
    assert hand.page.evaluate("[document.documentElement.lang, document.title]") == ["es", "Campo – Lapel"]
    routes = {name: route for name, route, _ in STEPS}
    for name, taps in IN_SPANISH.items():
        hand.go(*routes[name].split("/"))
        for words in taps:
            hand.tap(words)
        hand.at_rest()
        texts, cut = hand.page.evaluate(SPANISH_SEEN)
        assert [text for text in texts if ENGLISH.search(text) and text not in OF_PEOPLE] == [], name
        assert cut == [], name
        assert hand.page.evaluate(CUT_OFF) == [], name
    hand.go("check", "T-111")
    hand.tap("manguera desdoblada")
    hand.tap("contador sin leer")
    hand.kept("Guardado: T-111 en marcha")
    assert entries_of(hand)[-1]["fields"]["remark"] == "tubing was kinked, straightened"  # the log is English
    assert hand.page.complaints == []


def test_a_page_that_came_over_an_open_connection_says_large_that_it_can_keep_nothing(chromium, day_office):
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    context.set_default_timeout(PATIENCE_MS)
    context.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false })")
    page = context.new_page()
    page.goto(day_office.address + "/field/pair")
    page.get_by_text("This page can keep nothing here").wait_for()
    assert grave(page) == []
    keep(page, "field-insecure-phone-light")
    context.close()


def test_the_first_screens_pairing_and_choosing_are_accessible(chromium, day_office):
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.goto(f"{day_office.address}/field/pair#{day_office.pairing_code('first', 'first-phone')}")
    page.get_by_label("Code").wait_for()
    assert grave(page) == []
    keep(page, "field-pair-first-phone-light")
    assert page.evaluate("location.hash") in ("", "#/")
    page.get_by_role("button", name="Pair", exact=True).click()
    page.get_by_label("Who records").wait_for()
    assert grave(page) == []
    assert page.evaluate(TOO_SMALL) == []
    keep(page, "field-who-first-phone-light")
    context.close()
