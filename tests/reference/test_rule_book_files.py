"""Rule-book files: the packaged ones fit the published schema; faults in a house's own name file, rule and field."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lapel.hygiene.facts import FlowPair, SampleFacts
from lapel.hygiene.findings import judge
from lapel.reference import PACKAGED, UnusableFileError, rule_book, rule_book_from, rule_book_schema

ROOT = Path(__file__).parents[2]
FILES = ROOT / "src/lapel/reference/rulebooks"

HOUSE = """
format = "lapel rule book 1"
key = "mine"
title = "Mine"
authority = "me"
edition = "2026-11-24"
source = "procedure 7"
caution = "none"
based_on = "us-osha"

[[rule]]
id = "flow-change"
title = "Flow before and after"
measure = "flow_change"
wanted = "within {limit} of {basis}"
document = "procedure 7"
section = "4"
certainty = "judgement"
clause_unread = false
tier = [
  { above = "3 %", effect = "qualified", words = "look", remedy = "look" },
]
"""


def written(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "mine.toml"
    file.write_text(text, encoding="utf-8")
    return file


@pytest.mark.parametrize("key", PACKAGED)
def test_a_packaged_book_fits_the_schema_and_its_own_name(key: str):
    book = rule_book_from(FILES / f"{key}.toml")
    assert book.key == key
    assert book == rule_book(key)


def test_every_file_in_the_room_is_packaged_by_name():
    assert {file.stem for file in FILES.glob("*.toml")} == set(PACKAGED)


def test_the_published_schema_is_the_one_in_use():
    published = ROOT / "docs/reference/rule-book.schema.json"
    assert json.loads(published.read_text(encoding="utf-8")) == rule_book_schema()


def test_a_house_book_stands_on_another_and_replaces_whole_rules(tmp_path: Path):
    book = rule_book_from(written(tmp_path, HOUSE))
    base = rule_book("us-osha")
    assert [rule.id for rule in book.rules] == [rule.id for rule in base.rules]
    assert [rule.id for rule, other in zip(book.rules, base.rules, strict=True) if rule != other] == ["flow-change"]
    assert book.blanks_wanted(21) == base.blanks_wanted(21) == 2
    facts = SampleFacts(sampler="S-1", agent="toluene", flow_pairs=(FlowPair("A", 0.100, 0.104),))
    assert judge(facts, base).of("flow-change") is None
    finding = judge(facts, book).of("flow-change")
    assert finding is not None
    assert finding.wanted == "within 3 % of the flow before"


def test_a_rule_can_be_left_out_with_a_reason(tmp_path: Path):
    without = 'without = [{ rule = "port-ratio", reason = "no splitters here" }]\n\n[[rule]]'
    book = rule_book_from(written(tmp_path, HOUSE.replace("[[rule]]", without, 1)))
    assert "port-ratio" not in [rule.id for rule in book.rules]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('effect = "qualified"', 'effect = "bad"', "“flow-change”, tier 1, “effect”: found “bad”; wanted “remark”"),
        ('"3 %"', '"3"', "rule “flow-change”, tier 1, “above”: found “3”; wanted a number in “%”"),
        ('"3 %"', "3", "rule “flow-change”, tier 1, “above”: found “3”; wanted a number and its unit"),
        ('"3 %"', '"3 mL"', "rule “flow-change”, tier 1, “above”: found “3 mL”; wanted a number in “%”"),
        ('above = "3 %"', "is = true", "tier 1, “is”: found true; wanted a number in “%”"),
        ('above = "3 %", ', "", "rule “flow-change”, tier 1: found none of them; wanted exactly one of “above”"),
        ('above = "3 %"', 'above = "3 %", below = "1 %"', "found 2 of them; wanted exactly one of “above”"),
        ('measure = "flow_change"', 'measure = "flow"', "rule “flow-change”, “measure”: found “flow”; wanted one of"),
        ("{limit}", "3 %", "rule “flow-change”, “wanted”: found “within 3 % of {basis}”; wanted the place"),
        ('document = "procedure 7"\n', "", "rule “flow-change”: found no field “document”"),
        ('document = "procedure 7"', 'document = " "', "rule “flow-change”, “document”: found “ ”; wanted some words"),
        ('section = "4"', "sektion = 4", "rule “flow-change”: found the field “sektion”; wanted only the fields"),
        ('certainty = "judgement"', 'certainty = "sure"', "“certainty”: found “sure”; wanted “read”"),
        ('based_on = "us-osha"', 'based_on = "mars"', "“based_on”: found “mars”; wanted another of practice"),
        ('based_on = "us-osha"', "", "found no choice change_basis"),
        ('edition = "2026-11-24"', 'edition = "now"', "“edition”: found “now”; wanted the date of this reading"),
        ("[[rule]]", '[choices]\nflow_rule = { value = "best", document = "p", section = "", certainty = "judgement", '
         "clause_unread = false }\n[[rule]]", "choice “flow_rule”, “value”: found “best”; wanted one of “mean”"),
        ("[[rule]]", '[choices]\nblanks_minimum = { value = 1.5, document = "p", section = "", certainty = "known", '
         "clause_unread = false }\n[[rule]]", "found “1.5”; wanted a whole number, 0 or more"),
        ("[[rule]]", '[choices]\ncolour = { value = "red", document = "p", section = "", certainty = "judgement", '
         "clause_unread = false }\n[[rule]]", "choice “colour”: found “colour”; wanted one of change_basis"),
        ("[[rule]]", 'without = [{ rule = "moon", reason = "none" }]\n[[rule]]', "found “moon”; wanted a rule of"),
        ("title =", "title", "a file in TOML"),
        ('remedy = "look"', 'remedy = "look", document = "x"', "tier 1: found part of a source"),
    ],
)  # fmt: skip
def test_a_fault_names_file_rule_and_field(tmp_path: Path, old: str, new: str, told: str):
    assert old in HOUSE
    with pytest.raises(UnusableFileError) as caught:
        rule_book_from(written(tmp_path, HOUSE.replace(old, new)))
    assert told in str(caught.value)
    assert all(fault.where.startswith("mine.toml") for fault in caught.value.faults)


def test_tiers_that_step_back_are_refused(tmp_path: Path):
    more = '},\n  { above = "2 %", effect = "void", words = "no", remedy = "no" },\n]'
    with pytest.raises(UnusableFileError, match="found tiers at 3, 2; wanted each tier beyond the one before"):
        rule_book_from(written(tmp_path, HOUSE.replace("},\n]", more)))


def test_one_id_twice_is_refused(tmp_path: Path):
    rule = HOUSE[HOUSE.index("[[rule]]") :]
    with pytest.raises(UnusableFileError, match="“id”: found the same id a second time"):
        rule_book_from(written(tmp_path, HOUSE + rule))


def test_all_faults_of_shape_are_told_at_once(tmp_path: Path):
    text = HOUSE.replace('section = "4"\n', "").replace('"qualified"', '"bad"').replace('"2026-11-24"', '"now"')
    with pytest.raises(UnusableFileError) as caught:
        rule_book_from(written(tmp_path, text))
    assert len(caught.value.faults) == 3


def test_a_book_that_is_not_there_is_named(tmp_path: Path):
    with pytest.raises(UnusableFileError, match=r"none\.toml: found No such file"):
        rule_book_from(tmp_path / "none.toml")
    with pytest.raises(KeyError, match="no rule book “mars” is packaged; there are practice, us-osha"):
        rule_book("mars")
