"""The answers of a map in words: one row an answer, each with a question, none left out."""

import json

import pytest

from lapel.exchange.laboratory.answer_words import NAMED, OF_A_COLUMN, ONE, answers_in_words
from lapel.exchange.laboratory.report_map import FORMAT, SCHEMA

PROPERTIES = SCHEMA["properties"]
OF_REPORT = PROPERTIES["report"]["properties"]
OF_COLUMN = PROPERTIES["columns"]["additionalProperties"]["properties"]


def test_every_key_a_map_can_have_is_asked_in_words():
    keys = {key for key in PROPERTIES if key not in ("format", "columns", "report")}
    keys |= {f"report.{key}" for key in OF_REPORT}
    assert keys == {*ONE, *NAMED}
    assert set(OF_COLUMN) == set(OF_A_COLUMN)


@pytest.mark.parametrize(
    ("answers", "rows"),
    [
        ({"units": {"mass": "ug"}}, [("Unit of the mass, where none stands with it", "µg")]),
        ({"uncertainty_factor": 2.0}, [("Coverage factor k of the printed uncertainty", "2")]),
        ({"blank_corrected_by": "laboratory"}, [("Who took the blank off", "the laboratory")]),
        ({"sections": {"b": "back"}}, [("Section of the sampler that “b” is", "the back section")]),
        ({"agents": {"Xylol": ""}}, [("Agent that “Xylol” is", "none of them; not used")]),
        ({"report": {"ignored_samplers": ["QC-1", "QC-2"]}}, [("Names that are none of our samplers", "QC-1, QC-2")]),
        (
            {"columns": {"BG | {mg}": {"role": "reporting limit", "unit": "mg", "{new}": "x"}}},
            [
                ("What the column headed “BG | {mg}” holds", "reporting limit, as a mass or as the unit says"),
                ("Unit of the column headed “BG | {mg}”", "mg"),
                ("columns, BG | {mg}, {new}", "x"),
            ],
        ),
        ({"colour": None, "format": FORMAT}, [("colour", "null")]),
        ({"format": "lapel laboratory map 9"}, [("format", "lapel laboratory map 9")]),
        ({"words": "not a table", "columns": ["nor this"]}, [("words", "not a table"), ("columns", "nor this")]),
    ],
)
def test_an_answer_reads_as_on_the_page_and_a_key_nobody_knows_stands_as_it_is(answers, rows):
    assert list(answers_in_words(answers).values()) == rows


def leaves(said):
    if isinstance(said, dict):
        return [leaf for part in said.values() for leaf in leaves(part)]
    return [said]


def test_there_are_as_many_rows_as_answers():
    every = {
        "decimal_mark": "comma",
        "units": {"mass": "ug", "volume": "L"},
        "columns": {"A": {"role": "mass", "unit": "mg"}, "B": {"role": "other"}},
        "report": {"code": "GA-1", "samplers": {"L101": "L-101", "L102": "L-102"}, "cells": {"row 7": ""}},
        "unknown": {"deep": {"deeper": 1}},
    }
    rows = answers_in_words(every)
    assert len(rows) == len(leaves(every))
    assert all(asked and said for asked, said in rows.values())
    assert json.loads(rows["unknown"][1]) == every["unknown"]
