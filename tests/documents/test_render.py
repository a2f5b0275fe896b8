"""Setting and writing a document: texts only, whole or not at all."""

import os
from datetime import date

import pytest

from lapel.documents.render import DocumentNotWritten, breakable, rendered, write_whole


def test_a_number_is_refused():
    """A float in a template would be rounded by somebody else: 606.0 became 606 in a table."""
    with pytest.raises(TypeError, match=r"float 606\.0"):
        rendered("group_judgement", {"minutes": 606.0}, title="x", dated=date(2026, 1, 2))


def test_a_file_that_stood_there_is_unchanged_when_writing_fails(tmp_path, monkeypatch):
    path = tmp_path / "record.pdf"
    path.write_bytes(b"before")

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DocumentNotWritten, match="No space left on device"):
        write_whole(b"after", path)
    assert path.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_that_stood_there_is_replaced_whole(tmp_path):
    path = tmp_path / "record.pdf"
    path.write_bytes(b"before, and longer than what comes")
    write_whole(b"after", path)
    assert path.read_bytes() == b"after"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("text", ["", "short words only", "G-101", "x" * 500, "a " + "y" * 40 + " b"])
def test_places_to_break_change_nothing_a_reader_sees(text):
    assert breakable(text).replace("\u200b", "") == text
    runs = breakable(text).replace(" ", "\u200b").split("\u200b")
    assert max(len(run) for run in runs) <= 16


def test_a_number_keeps_its_unit_whole():
    """Its spaces do not break, so that it is no long word."""
    assert breakable("0.294\u00a0±\u00a00.045\u00a0mg/m³") == "0.294\u00a0±\u00a00.045\u00a0mg/m³"
