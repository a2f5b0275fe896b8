"""Reports as PDF: tables are taken where there is text, and a picture says that it is one."""

import pytest
import typst
from writer_of_reports import expected

from lapel.exchange.laboratory import empty_map, propose, read_content
from lapel.exchange.problems import InputProblems

ROWS = [
    ("K-101", "Toluene", "12.5", "<2", "2"),
    ("K-102", "Toluene", "<2", "<2", "2"),
    ("K-103", "Benzene", "0.81", "<0.5", "0.5"),
]


def pdf(tmp_path, body):
    source = tmp_path / "report.typ"
    source.write_text(body, encoding="utf-8")
    return typst.compile(str(source))


def table(stroke):
    cells = "".join("".join(f"[{cell.replace('<', chr(92) + '<')}]," for cell in row) for row in ROWS)
    heads = "[Sample],[Analyte],[Front (µg)],[Back (µg)],[Reporting limit (µg)],"
    return (
        "= Quarrybank Analytical (invented)\nReport no: QB-9\n\n"
        f"#table(columns: (3cm, 3cm, 3cm, 3cm, 4cm), stroke: {stroke}, {heads}{cells})\n\n"
        "Results relate only to the items as received.\n"
    )


@pytest.mark.parametrize("stroke", ["0.5pt", "none"])
def test_a_table_with_or_without_rules_is_read(tmp_path, stroke):
    proposal = propose(read_content("r.pdf", pdf(tmp_path, table(stroke))), expected(), empty_map())
    found = {(r.sampler, r.agent): (r.front_ug, r.front_below, r.back_ug, r.back_below) for r in proposal.results}
    assert found == {
        ("K-101", "toluene"): (12.5, False, 2.0, True),
        ("K-102", "toluene"): (2.0, True, 2.0, True),
        ("K-103", "benzene"): (0.81, False, 0.5, True),
    }
    assert proposal.facts.code == "QB-9"
    assert any("PDF" in remark for remark in proposal.remarks)


def test_a_picture_is_not_read(tmp_path):
    with pytest.raises(InputProblems, match="without text"):
        read_content("r.pdf", pdf(tmp_path, "#rect(width: 5cm, height: 5cm, fill: red)"))
