"""The sampling plan on paper: everything that is planned stands in it, and every label reads as its sampler."""

import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from PIL import Image

from lapel.assessment.plan_products import products_of
from lapel.assessment.planned import plan_survey
from lapel.documents import render
from lapel.documents.compose_plan import proof
from lapel.documents.sampling_plan import LABELS_A_SHEET, labels_data, write_sampling_plan
from lapel.exchange.plan_folder.reader import read_plan
from lapel.pictures.qr_code import QUIET, qr_code
from tests.documents.pdf_text import fonts_of, page_texts, squeezed, whole_text
from tests.documents.qr_reader import read_qr

EXAMPLE = Path(__file__).parents[2] / "examples" / "plan"
PPI = 200


@pytest.fixture(scope="module")
def plan():
    return plan_survey(read_plan(EXAMPLE))


@pytest.fixture(scope="module")
def products(plan):
    return products_of(plan)


@pytest.fixture(scope="module")
def written(plan, products, tmp_path_factory):
    """The two documents, and the pages of the labels as pixels from the very sources of the PDF."""
    sources = []
    original = render.typst.compile

    def noted(given, **options):
        sources.append(given)
        return original(given, **options)

    render.typst.compile = noted
    try:
        paths = write_sampling_plan(plan, products, tmp_path_factory.mktemp("plan") / "plan.pdf")
    finally:
        render.typst.compile = original
    pages = original(sources[-1], format="png", ppi=PPI, font_paths=[str(render.FONTS)], ignore_system_fonts=True)
    pages = [pages] if isinstance(pages, bytes) else pages
    return paths, [np.asarray(Image.open(io.BytesIO(page)).convert("L")) for page in pages]


def test_every_label_on_the_sheets_reads_as_its_sampler_with_its_quiet_zone(written, products):
    """Cells of 63.5 x 33.9 mm, 2.5 mm apart, from 7.2 and 12.9 mm; the code in the left 29 mm."""
    mm = PPI / 25.4
    read = []
    for page in written[1]:
        for place in range(LABELS_A_SHEET):
            row, column = divmod(place, 3)
            x, y = 7.2 + 66.0 * column, 12.9 + 33.9 * row
            cell = page[round(y * mm) : round((y + 33.9) * mm), round(x * mm) : round((x + 28.5) * mm)]
            if (cell < 128).any():
                text, quiet = read_qr(cell)
                assert quiet >= QUIET - 0.5
                read.append(text)
    assert read == [sampler.code for sampler in products.samplers]


@pytest.mark.parametrize("text", ["M26-0001", "S-0417", "site b, 0001", "LONGER-PREFIX/2026-0001"])
def test_a_code_reads_as_what_it_was_made_of(text):
    """Drawn by rectangles, read back from pixels by a reader of its own."""
    drawing = qr_code(text, size=400.0)
    pixels = np.full((400, 400), 255, dtype=np.uint8)
    for mark in drawing.marks:
        for box in re.findall(r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)", dict(mark.geometry).get("d", "")):
            x, y, width, height = map(float, box)
            pixels[round(y) : round(y + height), round(x) : round(x + width)] = 0
    assert read_qr(pixels)[0] == text


def test_no_label_names_a_worker_or_says_that_it_is_a_blank(written, plan):
    text = whole_text(written[0][1])
    for worker in plan.inputs.workers:
        assert worker not in text
    assert "blank" not in text.casefold()


def test_the_label_of_a_blank_is_printed_as_those_of_duplicates_and_spares(written, products):
    """The plan's own mark of a blank (F1) and its day stand on no label: the analyst reads the label."""
    text = whole_text(written[0][1])
    blanks = [sampler for sampler in products.samplers if sampler.use == "field blank"]
    assert blanks
    for blank in blanks:
        assert not re.search(rf"\b{blank.place}\b", text)
    labels = {label["code"]: label for sheet in labels_data(products)["sheets"] for label in sheet}
    spare = next(sampler for sampler in products.samplers if sampler.use == "spare")
    for part in ("day", "place"):
        assert {labels[blank.code][part] for blank in blanks} == {labels[spare.code][part]}
        assert all(labels[sampler.code][part] for sampler in products.samplers if sampler.use == "sample")


def test_every_sampler_train_and_order_line_stands_in_the_plan(written, plan, products):
    text = whole_text(written[0][0])
    for sampler in products.samplers:
        if sampler.use in ("sample", "field blank"):
            assert squeezed(sampler.code) in text
    for train in plan.trains:
        for word in (train.worker, train.pump, train.splitter, train.technician):
            assert squeezed(word) in text
    for line in products.kit:
        for word in (line.medium, line.lot, line.catalogue):
            assert squeezed(word) in text
    for words in (plan.inputs.strategy, plan.inputs.seed, plan.inputs.input_sha256, "Proven:"):
        assert squeezed(words) in text


def test_each_day_has_its_sheet_and_each_technician_a_time_table(written, plan):
    pages = page_texts(written[0][0])
    for day in plan.days:
        (sheet,) = [page for page in pages if squeezed(f"Day sheet {day}") in page]
        for train in plan.trains_on(day):
            assert train.worker in sheet
        for technician in {train.technician for train in plan.trains_on(day)}:
            assert any(squeezed(f"Time table {day}, technician {technician}") in page for page in pages)


def test_cautions_and_limits_of_the_plan_are_in_it(written):
    text = whole_text(written[0][0])
    for words in (
        "only pumps certified",
        "Confined spaces",
        "Local rules and licensed practice decide",
        "assumed group",
    ):
        assert squeezed(words) in text


def test_both_are_made_as_the_standards_want_with_their_fonts_inside(written):
    for path in written[0]:
        with pikepdf.open(path) as pdf:
            assert pdf.Root.StructTreeRoot is not None
            assert str(pdf.Root.Lang) == "en"
            meta = pdf.open_metadata()
            assert meta.get("pdfuaid:part") == "1"
            assert meta.get("pdfaid:part") == "2"
            assert all("/FontFile3" in font or "/FontFile2" in font for font in fonts_of(pdf))


def test_the_same_plan_gives_the_same_bytes(written, plan, products, tmp_path):
    again = write_sampling_plan(plan, products, tmp_path / "plan.pdf")
    assert [path.read_bytes() for path in again] == [path.read_bytes() for path in written[0]]


def test_a_plan_is_called_proven_only_where_every_goal_is(plan):
    assert proof(plan).startswith("Proven:")
    goals = tuple(
        replace(goal, bound=goal.reached / 2) if goal.name == "field days" else goal for goal in plan.campaign.goals
    )
    unsure = replace(plan, campaign=replace(plan.campaign, goals=goals))
    assert proof(unsure) == "Not proven the best: it may be up to 50 % from it in one of its goals."
