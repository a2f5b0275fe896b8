"""A code that breaks at the end of a line is printed as it is, in whatever language the document is."""

from datetime import date
from pathlib import Path

import pytest

from lapel.documents.blocks import Paragraph, document_as_pdf
from lapel.documents.blocks.model import Document
from tests.documents.pdf_text import whole_text

CODES = ("conditions-row-4", "flow_read-row-5", "1500-hexane", "report-a.csv", "G-101", "n-butilo")


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_code_keeps_its_one_hyphen_wherever_its_line_ends(language: str, tmp_path: Path):
    """Each at every place of a line: Spanish typesetting repeats the hyphen of a word that breaks there."""
    lines = tuple(
        Paragraph(f"{'a' * before} {'b' * 60} {'c' * 20} {code} {code}") for code in CODES for before in range(1, 16)
    )
    document = Document(title="x", kind="x", dated=date(2026, 6, 1), blocks=lines, language=language)
    path = tmp_path / "codes.pdf"
    path.write_bytes(document_as_pdf(document))
    text = whole_text(path)
    assert {code: text.count(code) for code in CODES} == dict.fromkeys(CODES, 30)
