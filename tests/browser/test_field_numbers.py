"""The page computes what the kernel computes: every shared vector, in a real browser."""

import importlib.util
import json
from pathlib import Path

import pytest
from field_modules import ask, open_modules

FOLDER = Path(__file__).parents[1] / "vectors" / "field"
_spec = importlib.util.spec_from_file_location("make_field_numbers", FOLDER / "make_field_numbers.py")
maker = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(maker)


def vectors(name):
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def page(chromium):
    context, page = open_modules(chromium)
    yield page
    context.close()


def test_units_are_converted_to_the_very_same_number(page):
    given = vectors("units")
    found = ask(page, "numbers/units.js", "given.map((one) => m.canonical(one.text, one.unit, one.kind))", given)
    assert found == [one["canonical"] for one in given]


def test_rounds_of_readings_give_the_flow_of_ambient_air(page):
    given = vectors("rounds")
    call = """given.rounds.map((one) => m.roundFlow(one.readings,
        new Map(given.meters.map((each) => [each.code, each])), new m.PlaceAir(one.site, one.conditions)))"""
    found = ask(page, "numbers/flow.js", call, {"rounds": given, "meters": maker.meters_as_packed()})
    for wanted, flow in zip(given, found, strict=True):
        assert flow["mean_lpm"] == pytest.approx(wanted["mean_lpm"], rel=1e-12)
        assert flow["spread"] == pytest.approx(wanted["spread"], rel=1e-9, abs=1e-12)
        assert flow["n"] == wanted["n"]
        assert sorted(flow["assumptions"]) == sorted(wanted["assumptions"])


def test_changes_and_the_flow_that_stands_are_the_kernels(page):
    given = vectors("changes")
    call = """given.map(({pre_lpm: pre, post_lpm: post, change, flow_lpm}) => ({
        change: Object.keys(change).map((basis) => m.flowChange(pre, post, basis)),
        flow: Object.keys(flow_lpm).map((rule) => m.flowByRule(pre, post, rule))}))"""
    for wanted, found in zip(given, ask(page, "numbers/flow.js", call, given), strict=True):
        assert found["change"] == pytest.approx(list(wanted["change"].values()), rel=1e-12)
        assert found["flow"] == pytest.approx(list(wanted["flow_lpm"].values()), rel=1e-12)


def test_every_rule_book_says_the_same_of_a_change_on_the_page(page):
    from lapel.field.day_pack import rules_of
    from lapel.reference import rule_book

    given = vectors("tiers")
    rules = {key: rules_of(rule_book(key)).model_dump() for key in maker.BOOKS}
    call = """given.tiers.map((one) => (one.measure === 'flow_change' ? m.changeTier : m.spreadTier)(
        one.value, given.rules[one.book]))"""
    found = ask(page, "numbers/verdict.js", call, {"tiers": given, "rules": rules})
    for wanted, tier in zip(given, found, strict=True):
        for name in ("effect", "remedy", "certainty"):
            assert tier[name] == wanted[name], wanted
    assert len({(one["book"], one["effect"]) for one in given}) > 8


def test_patterns_across_ports_point_at_the_same_cause(page):
    given = vectors("patterns")
    call = """given.map((one) => m.portPattern(one.before, one.after,
        {pumpBefore: one.pump_before, pumpAfter: one.pump_after}))"""
    for wanted, found in zip(given, ask(page, "numbers/splitter.js", call, given), strict=True):
        said = [{name: one[name] for name in ("pattern", "ports", "words")} for one in found]
        assert said == wanted["found"], wanted
    assert len({one["pattern"] for each in given for one in each["found"]}) >= 9


def test_the_least_useful_volume_is_the_planners(page):
    given = vectors("volumes")
    call = "given.map((one) => m.requiredVolume(one.loq_ug, one.limit_mg_m3, one.fraction))"
    found = ask(page, "numbers/volume.js", call, given)
    assert found == pytest.approx([one["litres"] for one in given], rel=1e-12)


def test_a_day_that_goes_on_shows_the_minutes_litres_and_looks_of_the_office(page):
    from lapel.field.day_pack import rules_of
    from lapel.reference import rule_book

    given = vectors("days")
    pack = {
        "survey": maker._site(maker.WORKS),
        "meters": maker.meters_as_packed(),
        "rules": rules_of(rule_book("practice")).model_dump(),
        **{name: [] for name in ("trains", "workers", "pumps", "splitters", "samplers", "methods", "limits")},
    }
    call = """Promise.all(given.days.map(async (one) => {
        const { fold } = await import(new URL('../fold/day.js', 'http://localhost/at/now/trains.js'));
        return m.trainsNow(fold(one.entries), given.pack, [], Date.parse(one.now))}))"""
    drawn = 0
    for wanted, found in zip(given, ask(page, "now/trains.js", call, {"days": given, "pack": pack}), strict=True):
        assert {train["code"] for train in found} == set(wanted["trains"])
        for train in found:
            expected = wanted["trains"][train["code"]]
            assert (train["stage"] == "running") == expected["running"]
            assert train["check_overdue_min"] == pytest.approx(negative(expected["due_in_min"]))
            assert (train["next_check_at"] or None) == expected["due_at"]
            for port in train["ports"]:
                if port["run"]:
                    part = expected["ports"][port["run"]["sampler"]]
                    assert port["drawing"] == part["drawing"]
                    assert port["minutes"] == pytest.approx(part["minutes"])
                    assert (port["litres"] is None) == (part["litres"] is None), (wanted, port)
                    assert port["litres"] == (part["litres"] and pytest.approx(part["litres"], rel=1e-12))
                    drawn += port["litres"] is not None
    assert drawn > 50


def negative(value):
    return None if value is None else -value
