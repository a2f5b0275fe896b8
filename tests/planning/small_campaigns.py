"""Small campaigns: drawn by Hypothesis, and solved by trying everything, apart from the search under test."""

import itertools

import numpy as np
from hypothesis import strategies as st
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from lapel.planning.demand import Crew, Demand, Equipment, PumpKind, SamplerOption, SplitterKind, Worker

LOW = PumpKind("low", 1, direct_lpm=(0.02, 0.5), split_total_lpm=(0.04, 0.5))


def sampler(name, agents, low, high, *, cost=10.0, samplers=1, own=False):
    return SamplerOption(
        name, name, frozenset(agents), 480.0, samplers, low, high, 480 * low / samplers, 480 * high / samplers,
        cost, own,
    )  # fmt: skip


OPTIONS = {
    option.name: option
    for option in (
        sampler("charcoal", {"toluene", "xylene"}, 0.02, 0.05, cost=30),
        sampler("charcoal toluene", {"toluene"}, 0.02, 0.2, cost=20),
        sampler("silica", {"methanol"}, 0.05, 0.1, cost=25, samplers=2),
        sampler("filter", {"dust"}, 1.0, 2.0, cost=15),
        sampler("short", {"methanol"}, 0.2, 0.2, cost=12, own=True),
    )
}
AGENTS = ("toluene", "xylene", "methanol", "dust")


@st.composite
def campaigns(draw, *, workers=3, days=2, most_options=3):
    """A demand and equipment small enough to try everything."""
    labels = tuple(f"day {i + 1}" for i in range(draw(st.integers(1, days))))
    pumps = (
        PumpKind(
            "low",
            draw(st.integers(0, 2)),
            direct_lpm=(0.02, 0.5),
            split_total_lpm=(0.04, draw(st.sampled_from([0.06, 0.14, 0.5]))),
            certified_for=draw(st.sampled_from([frozenset(), frozenset({"zone 1"})])),
        ),
        PumpKind("high", draw(st.integers(0, 2)), direct_lpm=(0.5, 4.0), certified_for=frozenset({"zone 1"})),
    )
    splitters = (SplitterKind("two-port", draw(st.integers(0, 2)), 2, (0.01, 0.25), draw(st.booleans())),)
    crew = Crew(
        technicians=draw(st.integers(1, 2)),
        hang_min=4,
        before_min=draw(st.sampled_from([4, 8])),
        after_min=draw(st.sampled_from([0, 4])),
        pumps_per_technician=draw(st.integers(1, 4)),
        changes_per_technician=draw(st.integers(0, 2)),
        on_day={labels[-1]: draw(st.integers(0, 2))},
    )
    people = []
    for i in range(draw(st.integers(1, workers))):
        options = draw(st.lists(st.sampled_from(sorted(OPTIONS)), unique=True, max_size=most_options))
        agents = draw(st.lists(st.sampled_from(AGENTS), unique=True, min_size=1, max_size=3))
        present = draw(st.one_of(st.none(), st.lists(st.sampled_from(labels), unique=True).map(frozenset)))
        people.append(
            Worker(
                f"W{i}",
                {agent: draw(st.integers(1, 2)) for agent in agents},
                tuple(options),
                shift_start_min=draw(st.sampled_from([360, 362, 368])),
                area=draw(st.sampled_from([None, None, "zone 1"])),
                pumps_at_once=draw(st.integers(1, 2)),
                days=present,
                days_at_most=draw(st.sampled_from([None, None, 1])),
            )
        )
    return Demand(tuple(people), OPTIONS, labels), Equipment(pumps, splitters, crew)


def outfits(worker, demand, equipment):
    """Everything the worker could wear on a day: tuples of (pump, splitter or None, options)."""
    single = []
    for pump, splitter in itertools.product(equipment.pumps, [None, *equipment.splitters]):
        if worker.area is not None and worker.area not in pump.certified_for:
            continue
        for size in range(1, (splitter.ports if splitter else 1) + 1):
            if splitter and size < splitter.ports and not splitter.may_cap:
                continue
            for names in itertools.combinations(worker.options, size):
                on = [demand.options[name] for name in names]
                if size > 1 and any(option.needs_own_pump for option in on):
                    continue
                window = pump.split_total_lpm if splitter else pump.direct_lpm
                port = splitter.port_lpm if splitter else window
                if window is None:
                    continue
                lows = [max(option.flow_low_lpm, port[0]) for option in on]
                highs = [min(option.flow_high_lpm, port[1]) for option in on]
                fits = all(a <= b for a, b in zip(lows, highs, strict=True))
                if fits and sum(lows) <= window[1] + 1e-12 and sum(highs) >= window[0] - 1e-12:
                    single.append((pump.name, splitter.name if splitter else None, names))
    found = [()]
    for count in range(1, worker.pumps_at_once + 1):
        for trains in itertools.combinations_with_replacement(single, count):
            worn = [name for _, _, names in trains for name in names]
            if len(set(worn)) == len(worn):
                found.append(trains)
    return found


def can_be_hung(day, workers, outfit, crew):
    technicians = crew.on(day)
    hangs = [worker for worker, trains in zip(workers, outfit, strict=True) for _ in trains]
    if not hangs:
        return True
    slots = [(turn * crew.hang_min, t) for turn in range(24 * 60 // crew.hang_min) for t in range(technicians)]
    if not slots:
        return False
    cells = [
        [
            int(
                start >= worker.shift_start_min - crew.before_min
                and start + crew.hang_min <= worker.shift_start_min + crew.after_min
            )
            for start, _ in slots
        ]
        for worker in hangs
    ]
    match = maximum_bipartite_matching(csr_matrix(np.array(cells)), perm_type="column")
    return bool((match >= 0).all())


def days_possible(day, demand, equipment, worn):
    """All that can be done on a day: what is met, the pumps it takes, its cost."""
    crew, found = equipment.crew, set()
    choices = [worn[worker.code] if worker.days is None or day in worker.days else [()] for worker in demand.workers]
    hung = {}
    for outfit in itertools.product(*choices):
        trains = [train for one in outfit for train in one]
        kinds = tuple(sum(t[0] == pump.name for t in trains) for pump in equipment.pumps)
        if any(n > pump.count for n, pump in zip(kinds, equipment.pumps, strict=True)):
            continue
        if any(sum(t[1] == s.name for t in trains) > s.count for s in equipment.splitters):
            continue
        if len(trains) > crew.on(day) * crew.pumps_per_technician:
            continue
        on = [demand.options[name] for t in trains for name in t[2]]
        if sum(option.samplers - 1 for option in on) > crew.on(day) * crew.changes_per_technician:
            continue
        key = tuple(len(one) for one in outfit)
        if key not in hung:
            hung[key] = can_be_hung(day, demand.workers, outfit, crew)
        if not hung[key]:
            continue
        met = frozenset(
            (worker.code, agent)
            for worker, one in zip(demand.workers, outfit, strict=True)
            for t in one
            for name in t[2]
            for agent in demand.options[name].agents
            if agent in worker.wants
        )
        present = tuple(bool(one) for one in outfit)
        found.add((met, kinds, sum(option.cost for option in on), present))
    return found


def best_by_trying_everything(demand, equipment):
    """The best values of all goals in order, by trying every outfit of every worker on every day."""
    worn = {worker.code: outfits(worker, demand, equipment) for worker in demand.workers}
    counts = {(worker.code, agent): n for worker in demand.workers for agent, n in worker.wants.items()}
    best = None
    per_day = [days_possible(day, demand, equipment, worn) for day in demand.days]
    for combination in itertools.product(*per_day):
        visits = [sum(day[3][w] for day in combination) for w in range(len(demand.workers))]
        if any(
            worker.days_at_most is not None and n > worker.days_at_most
            for worker, n in zip(demand.workers, visits, strict=True)
        ):
            continue
        short = sum(max(0, count - sum(want in day[0] for day in combination)) for want, count in counts.items())
        peak = sum(max(day[1][k] for day in combination) for k in range(len(equipment.pumps)))
        used = sum(any(day[3]) for day in combination)
        value = (short, used, peak, round(sum(day[2] for day in combination), 6))
        best = value if best is None or value < best else best
    return best
