"""Show the working: numbered steps a reviewer can follow."""

from lapel.figures import formula, reading, working
from lapel.figures.formula import LitresPerMinute, Minutes


@formula("mean flow", "Q = (Q₁ + Q₂)/2", unit="L/min", source="NMAM", symbols={"flows_lpm": "Q"})
def mean_flow(flows_lpm):
    return sum(flows_lpm) / len(flows_lpm)


@formula("sample volume", "V = Q·t", unit="L", source="NMAM", symbols={"flow_lpm": "Q", "minutes": "t"})
def volume(flow_lpm: LitresPerMinute, minutes: Minutes):
    return flow_lpm * minutes


def test_every_step_uses_only_earlier_ones_and_says_where_numbers_come_from():
    before = reading(0.102, "L/min", name="flow before", uncertainty=0.001, source="entry 12")
    after = reading(0.098, "L/min", name="flow after", uncertainty=0.001, source="entry 31")
    made = working(volume(mean_flow([before, after]), 480.0).named("volume of sample L-204"))
    assert [step.number for step in made.steps] == [1, 2]
    first, second = made.steps
    assert [(t.label, t.text, t.origin) for t in first.terms] == [
        ("Q[1]", "0.102000 L/min", "flow before; entry 12"),
        ("Q[2]", "0.0980000 L/min", "flow after; entry 31"),
    ]
    assert second.terms[0].origin == "step 1"
    assert (second.result, second.expression) == ("48.0000 L", "V = Q·t")
    assert made.title == second.name == "volume of sample L-204"
    assert {row.cause for row in made.budget} == {"flow before", "flow after"}


def test_a_number_that_was_read_is_its_own_working():
    made = working(reading(3.0, "ug", name="front mass", source="report R1, row 4"))
    assert len(made.steps) == 1
    assert made.steps[0].source == "report R1, row 4"


def test_a_shared_intermediate_stands_once():
    flow = mean_flow([0.1, 0.1])
    both = mean_flow([volume(flow, 10.0), volume(flow, 20.0)])
    assert [step.name for step in working(both).steps] == ["mean flow", "sample volume", "sample volume", "mean flow"]
