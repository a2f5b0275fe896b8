"""What the board counts down to, against a day whose volumes are products anybody can do in the head."""

import pytest
from field_day_acts import act
from field_modules import ask, open_modules


@pytest.fixture(scope="module")
def page(chromium):
    context, page = open_modules(chromium)
    yield page
    context.close()


def method(code, agent, medium, loq_ug, most_l, least_l=None):
    return {
        "code": code, "agent": agent, "medium": medium, "reporting_limit_ug": loq_ug, "volume_max_l": most_l,
        "volume_min_l": least_l, "flow_min_lpm": None, "flow_max_lpm": None,
    }  # fmt: skip


def limit(agent, mg_m3, kind="TWA"):
    return {"agent": agent, "kind": kind, "mg_m3": mg_m3, "binding": True}


def tiers(*values):
    words = dict.fromkeys(("words", "remedy", "document", "section", "certainty"), "")
    made = [{"bound": "above", "value": one, "effect": "qualified", "clause_unread": False, **words} for one in values]
    return {"wanted": "", "tiers": made}


def pack(change_basis="pre"):
    """Port A: no more than 10 L (the other method would take 14), useful from 0.8 µg/(0.1 · 1 mg/m3) = 8 L. Port B: no
    more than 24 L, useful from 0.3/(0.1 · 0.2) = 15 L."""
    return {
        "survey": {"zone": "UTC", "temperature_c": None, "pressure_kpa": None},
        "meters": [],
        "methods": [
            method("M-1", "toluene", "charcoal", 0.8, 14.0),
            method("M-2", "xylene", "charcoal", 0.8, 10.0, least_l=2.0),
            method("M-3", "formaldehyde", "silica", 0.3, 24.0),
        ],
        "limits": [
            limit("toluene", 1.0),
            limit("xylene", 40.0),
            limit("formaldehyde", 0.2),
            limit("toluene", 0.1, "STEL"),
        ],
        "rules": {
            "change_basis": change_basis,
            "flow_rule": "mean",
            "rules": {"reporting_limit_share": tiers(10), "flow_change": tiers(5, 10)},
        },
        "samplers": [
            {"code": "S-1", "methods": ["M-1", "M-2"], "purpose": "full shift"},
            {"code": "S-2", "methods": ["M-3"], "purpose": "full shift"},
        ],
        **{name: [] for name in ("trains", "workers", "pumps", "splitters", "blanks", "spares", "media")},
    }


class Day:
    """Entries by the clock of 2026-05-14, UTC."""

    def __init__(self):
        self.entries = []

    def at(self, clock, kind, **fields):
        number = len(self.entries) + 1
        self.entries.append(
            {"id": f"e{number:03d}", "at": f"2026-05-14T{clock}:00.000Z", "device": "phone-1", "sequence": number,
             "author": "RK", **act(kind, train="T1", **fields)}
        )  # fmt: skip

    def round(self, clock, phase, **flows):
        for port, flow in flows.items():
            self.at(clock, "flow_read", port=port, phase=phase, meter="M-1", reading=flow, unit="mL/min")
        if phase == "closing":
            self.at(clock, "closing_round", ports=" ".join(flows), valve_touched="no")
        else:
            self.at(clock, "post_round", valve_touched="no", recharged="no", battery_changed="no", same_tubes="yes")

    def train(self, page, clock, **asked):
        call = """import(new URL('../fold/day.js', 'http://localhost/at/now/trains.js')).then(({ fold }) =>
            m.trainsNow(fold(given.entries), given.pack, [], Date.parse(given.now))[0])"""
        given = {"entries": self.entries, "pack": pack(**asked), "now": f"2026-05-14T{clock}:00.000Z"}
        train = ask(page, "now/trains.js", call, given)
        return train | {"ports": {port["port"]: port for port in train["ports"]}}


@pytest.fixture
def running():
    """Port A draws 0.1 L/min, port B 0.2 L/min, from seven o'clock."""
    day = Day()
    day.at("06:00", "train_prepared", pump="P-1", splitter="")
    day.round("06:30", "closing", A="100", B="200")
    day.at("06:50", "sampler_fitted", port="A", sampler="S-1", medium="charcoal")
    day.at("06:50", "sampler_fitted", port="B", sampler="S-2", medium="silica")
    day.at("07:00", "pump_started", counter_min="0")
    return day


def clock(instant):
    return instant[11:16]


def test_each_port_counts_down_to_its_own_volumes(page, running):
    a, b = (running.train(page, "08:00")["ports"][port] for port in "AB")
    assert (a["litres"], b["litres"]) == (pytest.approx(6.0), pytest.approx(12.0))
    assert (a["volume_max_l"], clock(a["volume_max_at"]), a["minutes_left"]) == (10.0, "08:40", pytest.approx(40.0))
    assert (b["volume_max_l"], clock(b["volume_max_at"]), b["minutes_left"]) == (24.0, "09:00", pytest.approx(60.0))
    assert (a["volume_useful_l"], clock(a["useful_at"])) == (pytest.approx(8.0), "08:20")
    assert (b["volume_useful_l"], clock(b["useful_at"])) == (pytest.approx(15.0), "08:15")


def test_a_train_is_useful_with_its_last_port_and_safe_until_its_first(page, running):
    train = running.train(page, "08:00")
    assert clock(train["earliest_useful_stop"]) == "08:20"
    assert clock(train["latest_safe_stop"]) == "08:40"


@pytest.mark.parametrize(
    ("now", "useful", "over"),
    [("08:14", "", ""), ("08:16", "B", ""), ("08:21", "AB", ""), ("08:39", "AB", ""), ("08:41", "AB", "A"),
     ("09:01", "AB", "AB")],
)  # fmt: skip
def test_useful_and_over_are_said_from_their_minute_on(page, running, now, useful, over):
    ports = running.train(page, now)["ports"]
    assert "".join(port for port in "AB" if ports[port]["reached_useful"]) == useful
    assert "".join(port for port in "AB" if ports[port]["over_max"]) == over


def held_and_read_again(running, afterwards):
    """From 100 to 103 mL/min before the hold, and on from 103."""
    running.at("09:00", "pump_held", why="break", counter_min="120")
    running.round("09:10", "closing", A="103", B="200")
    running.at("09:20", "pump_resumed", counter_min="120")
    running.at("11:00", "pump_stopped", why="shift end", counter_min="220")
    running.round("11:10", "post", A=afterwards, B="200")


def test_the_change_that_counts_is_the_largest_either_way(page, running):
    """103 to 94.76 mL/min is 8 % down, 100 to 103 is 3 % up."""
    held_and_read_again(running, "94.76")
    port = running.train(page, "11:20")["ports"]["A"]
    assert port["change"] == pytest.approx(-0.08)
    assert port["change_tier"]["limit"] == 5


@pytest.mark.parametrize(("basis", "change"), [("pre", 80 / 100 - 1), ("post", 1 - 100 / 80), ("mean", -20 / 90)])
def test_the_change_is_of_the_flow_the_rule_book_names(page, running, basis, change):
    running.at("11:00", "pump_stopped", why="shift end", counter_min="240")
    running.round("11:10", "post", A="80", B="200")
    port = running.train(page, "11:20", change_basis=basis)["ports"]["A"]
    assert port["change"] == pytest.approx(change)
    assert port["change_tier"]["limit"] == 10


@pytest.mark.parametrize(
    ("first", "last", "pattern"),
    [
        (("1.50", "L/min"), ("1500", "mL/min"), "leak behind the tube"),  # the same flow, typed in another unit
        (("1.50", "L/min"), ("1.20", "L/min"), "port blocked"),
        (("1.50", "L/min"), None, "nothing at the inlet"),  # one look says nothing of a change
    ],
)
def test_the_pumps_display_tells_a_leak_from_a_blockage_whatever_its_unit(page, running, first, last, pattern):
    for at, look in (("07:30", first), ("10:50", last)):
        if look:
            running.at(at, "pump_checked", running="yes", display=look[0], display_unit=look[1])
    running.at("11:00", "pump_stopped", why="shift end", counter_min="240")
    running.round("11:10", "post", A="0.1", B="200")
    assert [one["pattern"] for one in running.train(page, "11:20")["diagnoses"]] == [pattern]
