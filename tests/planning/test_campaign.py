from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from small_campaigns import OPTIONS, best_by_trying_everything, campaigns, outfits

from lapel.planning.checker import check_campaign, check_visits
from lapel.planning.demand import Crew, Demand, Equipment, PumpKind, SplitterKind, Worker
from lapel.planning.port_window import port_window
from lapel.planning.solve import design_campaign
from lapel.planning.train import AgentMethod, sampler_options
from lapel.planning.volume_window import MethodWindow, full_shift, short_term

SLOW = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow, HealthCheck.filter_too_much]}


@settings(max_examples=150, **SLOW)
@given(campaigns())
def test_small_campaigns_are_as_good_as_trying_everything(case):
    demand, equipment = case
    size = 1
    for worker in demand.workers:
        size *= len(outfits(worker, demand, equipment))
    assume(size <= 3000)
    plan = design_campaign(demand, equipment, seconds=20)
    reached = tuple(goal.reached for goal in plan.goals)
    assert reached == pytest.approx(best_by_trying_everything(demand, equipment), abs=1e-6)
    assert plan.is_proven
    assert check_campaign(plan, demand, equipment) == ()


@settings(max_examples=40, **SLOW)
@given(campaigns(workers=7, days=4, most_options=5))
def test_every_plan_passes_the_independent_checker(case):
    demand, equipment = case
    plan = design_campaign(demand, equipment, seconds=10)
    assert check_campaign(plan, demand, equipment) == ()
    for missing in plan.missing:
        assert missing.why


PUMPS = (
    PumpKind("low", 2, direct_lpm=(0.02, 0.5), split_total_lpm=(0.04, 0.5)),
    PumpKind("high", 1, direct_lpm=(0.5, 4.0)),
)
KIT = Equipment(PUMPS, (SplitterKind("two-port", 2, 2, (0.01, 0.25)),), Crew())
ALL = tuple(OPTIONS)


def crowd(count, **words):
    return tuple(Worker(f"W{i}", {"toluene": 1, "methanol": 1, "dust": 1}, ALL, **words) for i in range(count))


def test_the_filter_pump_sets_the_number_of_days():
    """One filter pump and four workers who want dust: four days whatever the rest."""
    demand = Demand(crowd(4), OPTIONS, ("mon", "tue", "wed", "thu", "fri"))
    plan = design_campaign(demand, KIT)
    assert not plan.missing
    assert len(plan.days) == 4
    assert plan.is_proven
    assert "field days: 4 (proven best)" in plan.proof


def test_what_is_short_is_named_with_how_much_more_would_do():
    demand = Demand(crowd(4), OPTIONS, ("mon", "tue", "wed"))
    plan = design_campaign(demand, KIT)
    assert [m.agent for m in plan.missing] == ["dust"]
    assert "At least 1 more of pump high would do." in plan.advice
    assert any("more field day" in words for words in plan.advice)
    more = replace(KIT, pumps=(PUMPS[0], replace(PUMPS[1], count=2)))
    assert not design_campaign(demand, more).missing


def test_too_few_hands_around_the_shift_start_are_named():
    crew = Crew(technicians=1, hang_min=4, before_min=8, after_min=0)
    plenty = tuple(replace(pump, count=9) for pump in PUMPS)
    kit = Equipment(plenty, (replace(KIT.splitters[0], count=9),), crew)
    demand = Demand(crowd(3), OPTIONS, ("mon",))
    plan = design_campaign(demand, kit)
    assert plan.missing
    # Six hangs, two turns: two more technicians, or two more days.
    assert any("At least 2 more technicians a day" in words for words in plan.advice)
    assert any("At least 2 more field days" in words for words in plan.advice)
    staggered = tuple(replace(w, shift_start_min=360 + 8 * i) for i, w in enumerate(demand.workers))
    assert not design_campaign(Demand(staggered, OPTIONS, ("mon",)), kit).missing


@pytest.mark.parametrize(("workers", "pumps", "days"), [(5, 1, 1), (9, 2, 5), (12, 2, 8)])
def test_exactly_as_many_pumps_or_days_as_the_advice_asks_for_suffice(workers, pumps, days):
    """One filter pump on four days: four workers; each pump more takes four more, each day one."""
    plenty = (replace(PUMPS[0], count=9), PUMPS[1])
    kit = Equipment(plenty, (replace(KIT.splitters[0], count=9),), Crew())
    demand = Demand(crowd(workers), OPTIONS, ("mon", "tue", "wed", "thu"))
    advice = design_campaign(demand, kit).advice
    assert f"At least {pumps} more of pump high would do." in advice
    assert f"At least {days} more field day{'s' if days > 1 else ''} (now 4) would do." in advice

    def with_pumps(count):
        return replace(kit, pumps=(plenty[0], replace(PUMPS[1], count=count)))

    assert not design_campaign(demand, with_pumps(1 + pumps)).missing
    assert design_campaign(demand, with_pumps(pumps)).missing
    longer = (*demand.days, *(f"day {d}" for d in range(days)))
    assert not design_campaign(replace(demand, days=longer), kit).missing
    assert design_campaign(replace(demand, days=longer[:-1]), kit).missing


@pytest.mark.parametrize(("workers", "technicians"), [(2, 1), (3, 2), (4, 3), (5, 4)])
def test_exactly_as_many_technicians_as_the_advice_asks_for_suffice(workers, technicians):
    """Two hangs a worker and two turns: one technician a worker. One fewer than advised leaves somebody out."""
    crew = Crew(technicians=1, hang_min=4, before_min=8, after_min=0)
    plenty = tuple(replace(pump, count=19) for pump in PUMPS)
    kit = Equipment(plenty, (replace(KIT.splitters[0], count=19),), crew)
    demand = Demand(crowd(workers), OPTIONS, ("mon",))
    asked = f"At least {technicians} more technician{'s' if technicians > 1 else ''} a day"
    assert any(asked in words for words in design_campaign(demand, kit).advice)
    enough = replace(kit, crew=replace(crew, technicians=1 + technicians))
    assert not design_campaign(demand, enough).missing
    assert design_campaign(demand, replace(kit, crew=replace(crew, technicians=technicians))).missing


@pytest.mark.parametrize(
    ("word", "most", "technicians"),
    [("pumps_per_technician", 2, 3), ("changes_per_technician", 1, 3)],
)
def test_what_one_technician_can_see_to_sets_how_many_more_are_asked_for(word, most, technicians):
    """Four workers with two pumps and one change each: eight pumps by two, or four changes by one, take four people."""
    crew = replace(Crew(technicians=1, hang_min=1), **{word: most})
    plenty = tuple(replace(pump, count=19) for pump in PUMPS)
    kit = Equipment(plenty, (replace(KIT.splitters[0], count=19),), crew)
    options = tuple(name for name in ALL if name != "short")
    demand = Demand(tuple(replace(worker, options=options) for worker in crowd(4)), OPTIONS, ("mon",))
    advice = design_campaign(demand, kit).advice
    assert any(f"At least {technicians} more technicians a day" in words for words in advice), advice
    assert not design_campaign(demand, replace(kit, crew=replace(crew, technicians=4))).missing
    assert design_campaign(demand, replace(kit, crew=replace(crew, technicians=3))).missing


def test_when_nothing_suffices_alone_the_fewest_of_several_are_named():
    """Two workers who need two pumps in one visit and one turn, and one filter pump: both are short."""
    crew = Crew(technicians=1, hang_min=4, before_min=4, after_min=0)
    workers = tuple(Worker(f"W{i}", {"toluene": 1, "dust": 1}, ALL, days_at_most=1) for i in range(2))
    plan = design_campaign(Demand(workers, OPTIONS, ("mon",)), replace(KIT, crew=crew))
    assert len(plan.advice) == 1
    assert "Together" in plan.advice[0]
    assert "technician" in plan.advice[0]


@pytest.mark.parametrize(
    ("worker", "words"),
    [
        (Worker("W", {"lead": 1}, ALL), "No sampler option for lead fits this shift"),
        (Worker("W", {"dust": 1}, ALL, area="zone 1"), "no pump certified for it can carry dust"),
        (Worker("W", {"dust": 2}, ALL, days=frozenset({"mon"})), "Wanted on 2 days and the worker is there on 1"),
        (Worker("W", {"dust": 2}, ALL, days_at_most=1), "wears pumps on at most 1"),
        (
            Worker("W", {"dust": 1, "methanol": 1, "toluene": 1}, ALL, pumps_at_once=1, days_at_most=1),
            "fits into 1 days with 1 pumps at once",
        ),
    ],
)  # fmt: skip
def test_a_want_that_fails_on_the_worker_alone_says_why(worker, words):
    plan = design_campaign(Demand((worker,), OPTIONS, ("mon", "tue")), KIT)
    assert any(words in missing.why for missing in plan.missing), plan.missing
    assert check_campaign(plan, Demand((worker,), OPTIONS, ("mon", "tue")), KIT) == ()


def test_a_flow_no_pump_gives_is_named_with_its_window():
    kit = replace(KIT, pumps=(PUMPS[0],))
    plan = design_campaign(Demand((Worker("W", {"dust": 1}, ALL),), OPTIONS, ("mon",)), kit)
    assert "1000 to 2000 mL/min" in plan.missing[0].why


def test_a_start_window_without_a_whole_turn_is_named():
    kit = replace(KIT, crew=Crew(before_min=2, after_min=1))
    plan = design_campaign(Demand(crowd(1), OPTIONS, ("mon",)), kit)
    assert "Widen the start window" in plan.missing[0].why


def test_nobody_to_sample_is_a_plan_with_nothing_in_it():
    plan = design_campaign(Demand((), OPTIONS, ("mon",)), KIT)
    assert plan.visits == ()
    assert plan.is_proven


def plan_and_case():
    demand = Demand(crowd(3), OPTIONS, ("mon", "tue", "wed"))
    return design_campaign(demand, KIT), demand


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda t: replace(t, pump_number=9), "there are only"),
        (lambda t: replace(t, hang_at_min=300), "outside the start window"),
        (lambda t: replace(t, technician=2), "technician 2 of 1"),
        (lambda t: replace(t, ports=tuple(replace(p, flow_lpm=p.flow_lpm * 3) for p in t.ports)), "wanted"),
        (lambda t: replace(t, pump_kind="other"), "no such pump"),
        (lambda t: replace(t, splitter_kind="other"), "no such splitter"),
    ],
)
def test_the_checker_finds_a_spoilt_train(spoil, words):
    plan, demand = plan_and_case()
    first = plan.visits[0]
    bad = replace(first, trains=(spoil(first.trains[0]), *first.trains[1:]))
    faults = check_campaign(replace(plan, visits=(bad, *plan.visits[1:])), demand, KIT)
    assert any(words in fault.words for fault in faults), faults


def test_the_checker_finds_a_want_the_plan_is_silent_about():
    plan, demand = plan_and_case()
    faults = check_campaign(replace(plan, visits=plan.visits[1:]), demand, KIT)
    assert any("days short, and the plan names 0" in fault.words for fault in faults)


def test_the_checker_finds_one_pump_on_two_workers_and_two_hangs_at_once():
    plan, demand = plan_and_case()
    day = plan.visits[0].day
    same = [visit for visit in plan.visits if visit.day == day]
    doubled = replace(same[0], worker="W9")
    faults = check_campaign(replace(plan, visits=(*plan.visits, doubled)), demand, KIT)
    words = " ".join(fault.words for fault in faults)
    assert "is on 2 workers at once" in words
    assert "hangs two pumps" in words
    assert "no such worker" in words


def test_a_worker_keeps_a_pump_from_day_to_day():
    demand = Demand((Worker("A", {"dust": 2}, ALL), Worker("B", {"toluene": 2}, ALL)), OPTIONS, ("mon", "tue"))
    plan = design_campaign(demand, KIT)
    numbers = {}
    for visit in plan.visits:
        for train in visit.trains:
            numbers.setdefault((visit.worker, train.pump_kind), set()).add(train.pump_number)
    assert all(len(used) == 1 for used in numbers.values())


def test_a_plan_edited_by_hand_is_checked_without_touching_its_figures():
    plan, demand = plan_and_case()
    assert check_visits(plan.visits[1:], demand, KIT) == ()
    twice = (*plan.visits, plan.visits[0])
    assert any("2 visits on one day" in fault.words for fault in check_visits(twice, demand, KIT))


def test_a_search_cut_short_still_hands_over_a_plan_that_can_be_worked_and_an_honest_gap():
    """Bounds must hold: nothing that a longer search reaches may lie below a bound printed by a shorter one."""
    workers = tuple(
        Worker(f"W{i:02d}", {"toluene": 1 + i % 2, "methanol": 1, "dust": 1}, ALL, shift_start_min=360 + 4 * (i % 3))
        for i in range(18)
    )
    demand = Demand(workers, OPTIONS, tuple(f"day {d}" for d in range(12)))
    kit = Equipment(
        (replace(PUMPS[0], count=5), replace(PUMPS[1], count=3)), (replace(KIT.splitters[0], count=3),), Crew()
    )
    long = design_campaign(demand, kit, seconds=20)
    for seconds in (0.01, 0.2, 1.0):
        short = design_campaign(demand, kit, seconds=seconds)
        assert check_campaign(short, demand, kit) == ()
        for place, goal in enumerate(short.goals):
            assert goal.bound <= goal.reached
            if all(a.reached == b.reached for a, b in zip(short.goals[:place], long.goals[:place], strict=True)):
                assert goal.bound <= long.goals[place].reached + 1e-6
        assert short.is_proven == (short.gap == 0)


def test_from_methods_to_a_checked_plan():
    """The whole way: windows from the laboratory's limits, shared tubes, options, campaign, checker."""
    shift = full_shift(100.0)

    def by_charcoal(agent, volume_max):
        window = port_window(MethodWindow(agent, "M 1501", 0.01, 0.2, loq_ug=5, volume_max_l=volume_max), shift)
        return AgentMethod(window, "charcoal", "carbon disulfide", "first", sampler_cost=4, analysis_cost=20)

    dust = port_window(MethodWindow("dust", "M 0600", 1.7, 2.5, loq_ug=100, volume_max_l=1000), full_shift(5.0))
    peak = port_window(MethodWindow("toluene, STEL", "M 1501", 0.01, 0.2, loq_ug=5, volume_max_l=8), short_term(500.0))
    methods = [
        by_charcoal("toluene", 12),
        by_charcoal("xylene", 23),
        AgentMethod(dust, "filter", "weighing", "first", sampler_cost=6, analysis_cost=12),
        AgentMethod(peak, "charcoal", "carbon disulfide", "first", sampler_cost=4, analysis_cost=20),
    ]
    options = {option.name: option for option in sampler_options(methods)}
    assert len(options) == 3
    wants = {"toluene": 1, "xylene": 1, "dust": 1, "toluene, STEL": 1}
    workers = tuple(Worker(f"W{i}", wants, tuple(options), pumps_at_once=2) for i in range(3))
    demand = Demand(workers, options, ("mon", "tue", "wed", "thu"))
    plan = design_campaign(demand, KIT)
    assert not plan.missing
    assert plan.is_proven
    assert check_campaign(plan, demand, KIT) == ()
    # Three pumps are needed for each worker and two may be worn: two visits each.
    assert len(plan.visits) == 6
