"""Whatever stands in the cells, the reader answers with a proposal or a fault, never with a crash."""

import csv
import io

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from writer_of_reports import drawn_style, expected, true_rows, written

from lapel.exchange.laboratory import empty_map, propose, read_content
from lapel.exchange.problems import InputProblems

EXPECTED = expected()
CELLS = st.one_of(
    st.sampled_from(
        [
            *["Sample", "Analyte", "Mass (ug)", "Front", "Back", "RL", "Units", "Toluene", "Benzene", "K-101", "K-102"],
            *["<2", "ND", "12.5", "1,234", "0,5", "5 U", "µg", "mg/m3", "Total", "03/04/2026", "", "Section", ">5"],
            *["Sample: K-103", "Result in mg", "Volume (L)", "U (k=2)", "Recovery %", "LCS 1", "CAS", "108-88-3", "-"],
            *["see note", "1e3"],
        ]
    ),
    st.text(max_size=12),
)  # fmt: skip


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.lists(CELLS, max_size=7), min_size=1, max_size=14))
def test_any_cells(rows):
    text = io.StringIO(newline="")
    csv.writer(text).writerows(rows)
    try:
        file = read_content("r.csv", text.getvalue().encode("utf-8", errors="replace"))
    except InputProblems:
        return
    proposal = propose(file, EXPECTED, empty_map())
    for result in proposal.results:
        assert result.agent in EXPECTED.agents.agents
        assert result.front_ug is None or result.front_ug >= 0.0
        assert result.printed


@settings(max_examples=120, deadline=None)
@given(st.integers(0, 40), st.lists(st.tuples(st.integers(0, 4000), st.binary(min_size=1, max_size=3)), max_size=6))
def test_any_damage_to_a_real_file(seed, damage):
    style = drawn_style(seed)
    name, content, _ = written(style, true_rows(seed))
    body = bytearray(content)
    for at, put in damage:
        body[at % len(body) : at % len(body) + len(put)] = put
    try:
        file = read_content(name, bytes(body))
    except InputProblems:
        return
    propose(file, EXPECTED, empty_map())
