"""Kit sheets of a plan: every train's code on paper reads as the text the reference describes."""

import io
import json
from pathlib import Path
from urllib.parse import unquote

import numpy as np
import pytest
from PIL import Image

from lapel.assessment.plan_by_hand import HandTrain, plan_by_hand
from lapel.assessment.plan_products import products_of
from lapel.documents import render
from lapel.documents.kit_sheet_code import KitPort, kit_sheet_code
from lapel.documents.sampling_plan import day_sheets_document
from lapel.exchange.plan_folder.reader import read_plan
from lapel.figures import canonical
from lapel.pictures.qr_code import QUIET
from tests.documents.pdf_text import whole_text
from tests.documents.qr_reader import read_qr

EXAMPLE = Path(__file__).parents[2] / "examples" / "plan"
VECTORS = Path(__file__).parents[1] / "vectors" / "field" / "kit_codes.json"
DAY = "2026-06-08"
PPI = 200
SMALLEST_CODE_MM = 25


@pytest.fixture(scope="module")
def plan():
    """A train of three ports, one of two and one of one, set by hand."""
    toluene, formaldehyde, mek = "K1", "K2", "K5"
    return plan_by_hand(
        read_plan(EXAMPLE),
        [
            HandTrain(
                DAY,
                "L-01",
                "P-11",
                "T-1",
                "TA",
                330,
                (("A", toluene, 0.012), ("B", formaldehyde, 0.04), ("C", mek, 0.015)),
            ),
            HandTrain(DAY, "L-02", "P-12", "D-2", "TA", 350, (("A", toluene, 0.0115), ("B", formaldehyde, 0.035))),
            HandTrain(DAY, "L-04", "P-13", "", "TA", 370, (("A", toluene, 0.0125),)),
        ],
    )


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    """The day sheets as PDF, and their pages as pixels from the very source of it."""
    sources = []
    original = render.typst.compile

    def noted(given, **options):
        sources.append(given)
        return original(given, **options)

    render.typst.compile = noted
    try:
        pdf = day_sheets_document(plan, products_of(plan), [DAY])
    finally:
        render.typst.compile = original
    path = tmp_path_factory.mktemp("sheets") / "sheets.pdf"
    path.write_bytes(pdf)
    pages = original(sources[-1], format="png", ppi=PPI, font_paths=[str(render.FONTS)], ignore_system_fonts=True)
    pages = [pages] if isinstance(pages, bytes) else pages
    return path, [np.asarray(Image.open(io.BytesIO(page)).convert("L")) for page in pages]


def codes_on(page):
    """Every code in the left column of a page, with the white round it, top to bottom."""
    mm = PPI / 25.4
    column = page[:, round(19 * mm) : round(57.5 * mm)]
    dark = (column < 128).any(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], dark, [False]]).astype(int)))
    for top, bottom in zip(edges[::2], edges[1::2], strict=True):
        if bottom - top > SMALLEST_CODE_MM * mm:
            yield read_qr(column[top - round(3 * mm) : bottom + round(3 * mm)])


def test_the_code_of_every_train_says_what_is_planned_on_its_ports(plan, written):
    found = [code for page in written[1] for code in codes_on(page)]
    assert len(found) == len(plan.trains) == 3
    for train, (text, quiet) in zip(plan.trains, found, strict=True):
        assert quiet >= QUIET - 0.5
        first, *parts = [[unquote(field) for field in part.split(";")] for part in text.split("|")]
        assert first == ["LAPEL KIT 1", train.pump, "mL/min"]
        assert [part[:2] for part in parts] == [[port.letter, port.kind.option.medium] for port in train.ports]
        for port, (_, medium, catalogue, lot, intended, supplier) in zip(train.ports, parts, strict=True):
            of_lot = plan.inputs.media_lots[lot]
            assert (of_lot.medium, of_lot.catalogue) == (medium, catalogue)
            assert canonical(intended, "mL/min", "flow") == pytest.approx(port.flow_lpm, rel=0.005)
            assert supplier == ""


def test_the_kit_sheets_name_no_worker(plan, written):
    after = whole_text(written[0]).split("Kitsheets")[1].split("Timetable")[0]
    assert "P-11" in after
    assert "CH-8120" in after
    for train in plan.trains:
        assert train.worker not in after


@pytest.mark.parametrize("one", json.loads(VECTORS.read_text(encoding="utf-8")), ids=lambda one: one["pump"])
def test_a_sheet_is_written_as_the_reference_says(one):
    assert kit_sheet_code(one["pump"], [KitPort(**port) for port in one["ports"]]) == one["text"]


def test_the_example_of_the_reference_is_one_of_those_held_against():
    page = (Path(__file__).parents[2] / "docs" / "reference" / "kit-sheet-code.md").read_text(encoding="utf-8")
    assert json.loads(VECTORS.read_text(encoding="utf-8"))[0]["text"] in page
