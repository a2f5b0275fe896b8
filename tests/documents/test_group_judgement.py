"""The judgement of a group as PDF: its words as composed, honest pictures, and every odd group gets a document."""

import math
from datetime import date

import numpy as np
import pikepdf
import pytest

from lapel.assessment.group import judge_group
from lapel.documents import compose_group
from lapel.documents.group_judgement import band_labels, judgement_data, write_group_judgement
from lapel.pictures.lettering import printable
from tests.documents.pdf_text import squeezed, whole_text

VALUES = [1.2, 3.4, 0.9, 7.1, 2.2, 1.6]
HOSTILE = "#panic() <b>*x*</b> \u202e" + "W" * 120


def judged(lower, upper=None, **more):
    options = {"limit": 50.0, "unit": "ppm", "name": "Painters", **more}
    return judge_group(lower, lower if upper is None else upper, **options)


@pytest.fixture(scope="module")
def painters():
    """Six measured results and two below a reporting limit, from three workers."""
    return judged(
        [*VALUES, 0.0, 0.0],
        [*VALUES, 0.5, 0.5],
        workers=("W-1", "W-2", "W-3", "W-1", "W-2", "W-3", "W-1", "W-2"),
        days=tuple(date(2026, 3, day) for day in range(2, 10)),
    )


@pytest.fixture(scope="module")
def text(painters, tmp_path_factory):
    path = tmp_path_factory.mktemp("group") / "painters.pdf"
    write_group_judgement(painters, path, source="painters.csv")
    return whole_text(path)


def test_the_first_words_are_the_tests_own(painters, text):
    assert squeezed(compose_group.sentence(painters)) in text[:400]
    assert squeezed(compose_group.belief(painters)) in text[:800]


def test_every_cell_stands_in_it_as_composed(painters, text):
    cells = [cell for row in compose_group.believed_rows(painters) for cell in row]
    cells += [cell for row in compose_group.estimate_rows(painters) for cell in row]
    cells += [cell for row in compose_group.worker_rows(painters) for cell in row]
    cells += compose_group.shape_lines(painters)
    for words, chance, _ in compose_group.band_rows(painters):
        cells.append(chance)
        assert words
    for cell in cells:
        assert squeezed(cell) in text


def test_every_test_stands_with_its_outcome_words_remarks_and_source(painters, text):
    for test in compose_group.test_rows(painters):
        assert squeezed(f"{test.rule[1:]}") in text
        for words in (test.outcome, test.words, test.source, *test.remarks):
            assert squeezed(words) in text


def test_each_non_detect_stands_as_what_it_is(painters, text):
    data = judgement_data(painters)
    assert [row[3] for row in data["results"]].count("< 0.5 ppm") == 2
    assert text.count(squeezed("< 0.5 ppm")) >= 2
    assert "0.25" not in "".join(row[3] for row in data["results"])


def test_it_is_marked_as_accessible_and_archival_and_the_same_again(painters, tmp_path):
    paths = [tmp_path / "a.pdf", tmp_path / "b.pdf"]
    for path in paths:
        write_group_judgement(painters, path)
    assert paths[0].read_bytes() == paths[1].read_bytes()
    with pikepdf.open(paths[0]) as pdf:
        meta = pdf.open_metadata()
        assert meta["pdfuaid:part"] == "1"
        assert meta["pdfaid:conformance"] == "A"
        assert "/StructTreeRoot" in pdf.Root


GROUPS = {
    "one result": ([3.0], None),
    "two results": ([3.0, 4.0], None),
    "all below the reporting limit": ([0.0] * 6, [0.5, 0.5, 0.5, 1.0, 1.0, 2.0]),
    "all the same": ([2.0] * 6, None),
    "bounds": ([0.5, 1.0, 0.0, 2.0, 4.0, 1.0], [1.5, 1.0, 2.0, math.inf, 4.0, 3.0]),
    "far below the limit": ([x * 1e-4 for x in VALUES], None),
    "far above the limit": ([x * 1e3 for x in VALUES], None),
}


@pytest.mark.parametrize("kind", GROUPS)
def test_every_odd_group_gets_a_document(kind, tmp_path):
    lower, upper = GROUPS[kind]
    judgement = judged(lower, upper, name=kind)
    path = tmp_path / "odd.pdf"
    write_group_judgement(judgement, path)
    text = whole_text(path)
    assert squeezed(compose_group.sentence(judgement)) in text
    if judgement.prior_decides:
        assert squeezed("The results decide little here") in text


def test_a_thousand_results_fit(tmp_path):
    values = np.random.default_rng(7).lognormal(0.0, 1.0, size=1000)
    path = tmp_path / "many.pdf"
    write_group_judgement(judged(list(values)), path)
    assert squeezed("1000 results are not listed one by one") in whole_text(path)


def test_hostile_names_are_printed_literally(tmp_path):
    judgement = judged(VALUES, name=HOSTILE, workers=[HOSTILE, "a", "b", HOSTILE, "a", "b"], limit_text="50 <ppm> *x*")
    path = tmp_path / "hostile.pdf"
    write_group_judgement(judgement, path, source=HOSTILE)
    text = whole_text(path)
    assert text.count(squeezed(printable(HOSTILE))) >= 3
    assert squeezed("50 <ppm> *x*") in text


def test_bands_are_named_by_their_edges():
    assert band_labels((0.01, 0.1, 0.5, 1.0)) == ["< 1 %", "1 to 10 %", "10 to 50 %", "50 to 100 %", "> 100 %"]
