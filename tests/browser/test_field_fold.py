"""The page folds as the office does: the vectors, and logs made by chance, in a real browser."""

import json
import re
from pathlib import Path

import pytest
from field_modules import ask, open_modules
from random_logs import random_log

from lapel.fieldlog import check_entry, entry_from_record, entry_hash, entry_record, fold, plain
from lapel.fieldlog.chain import canonical_text
from lapel.fieldlog.signatures import signature_in

VECTORS = Path(__file__).parents[1] / "vectors" / "fieldlog"
DAYS = sorted(path for path in VECTORS.glob("*.json") if path.name != "chain.json")
FOLDS = "given.map((entries) => m.fold(entries))"


@pytest.fixture(scope="module")
def page(chromium):
    context, page = open_modules(chromium)
    yield page
    context.close()


def as_json(value):
    return json.loads(json.dumps(plain(value)))


def without_origins(value):
    """Where an entry was read from is no part of what was recorded; a page reads none from files."""
    if isinstance(value, dict):
        return {name: without_origins(item) for name, item in value.items() if name != "origin"}
    return [without_origins(item) for item in value] if isinstance(value, list) else value


def test_the_days_worked_out_by_hand_are_those_of_the_page(page):
    entries = [json.loads(path.read_text(encoding="utf-8"))["entries"] for path in DAYS]
    assert len(entries) >= 8
    for path, found, records in zip(DAYS, ask(page, "fold/day.js", FOLDS, entries), entries, strict=True):
        assert found == as_json(fold(map(entry_from_record, records))), path.name


def test_any_log_gives_the_same_day_at_the_office_and_on_the_page(page):
    logs = [random_log(seed) for seed in range(300)]
    given = [[entry_record(entry) for entry in log] for log in logs]
    for seed, (log, found) in enumerate(zip(logs, ask(page, "fold/day.js", FOLDS, given), strict=True)):
        expected = without_origins(as_json(fold(log)))
        found = without_origins(found)
        assert found.keys() == expected.keys()
        for part, value in expected.items():
            assert found[part] == value, f"log {seed}, {part}"


IN_SPANISH = """(async () => {
  const [{ fold, openPorts }, { speak, tell }] = [m, await import('http://localhost/at/screens/words.js')];
  speak(['es']);
  return given.flatMap((entries) => {
    const day = fold(entries);
    const ports = Object.keys(day.trains).flatMap((train) => Object.values(openPorts(day, train)));
    const segments = Object.values(day.runs).flatMap((run) => run.segments);
    const reasons = [...ports.map((one) => one.closing_lost), ...segments.map((one) => one.before_lost)];
    const raised = [...day.conflicts, ...day.remarks].map((one) => one.words);
    const faults = day.unusable.flatMap((one) => one.problems);
    const all = [...raised, ...reasons, ...segments.map((one) => one.after_lost), ...faults];
    return all.filter(Boolean).map((words) => [words, tell(words)]);
  });
})()"""


def test_all_that_can_go_wrong_is_told_in_spanish(page):
    """A sentence put together in place, which no catalogue can find, would come back as it is."""
    given = [[entry_record(entry) for entry in random_log(seed)] for seed in range(100)]
    told = ask(page, "fold/day.js", IN_SPANISH, given)
    assert len(told) > 3000
    english = r"\b(?:is|was|were|and|that|the|its|with|which|before|after|wanted|found|recorded|count|counts)\b"
    of_ours = [re.sub(r"[{“].*[}”]", "", spanish, flags=re.DOTALL) for _, spanish in told]  # what was typed stays
    assert [spanish for spanish in of_ours if re.search(english, spanish)] == []
    assert [words for words, spanish in told if words == spanish] == []


def test_the_logs_made_by_chance_hold_what_can_go_wrong():
    days = [fold(random_log(seed)) for seed in range(300)]
    conflicts = {conflict.about for day in days for conflict in day.conflicts}
    remarks = {remark.about for day in days for remark in day.remarks}
    assert len(conflicts) >= 20
    assert len(remarks) >= 14
    assert sum(len(day.runs) for day in days) > 300
    assert sum(bool(segment.after) for day in days for run in day.runs.values() for segment in run.segments) > 30
    assert sum(len(day.rivals) for day in days) > 50


def test_every_fault_of_an_entry_is_found_on_the_page_in_the_same_words(page):
    entries = [entry for seed in range(40) for entry in random_log(seed)]
    found = ask(page, "checks.js", "given.map(m.checkEntry)", [entry_record(entry) for entry in entries])
    for entry, problems in zip(entries, found, strict=True):
        expected = [{"field": p.field, "found": p.found, "wanted": p.wanted} for p in check_entry(entry)]
        assert problems == expected, entry


def test_a_signature_is_judged_on_the_page_as_at_the_office(page):
    texts = [
        "",
        "paper",
        " paper ",
        "account lead",
        "account two names",
        "account a\u200bb",
        "yes",
        "drawn 0,0 60,0;5,5",
    ]
    texts += ["drawn 0,0 59,40", "drawn 0,0 601,0", "drawn 0,0 90,201", "drawn 0,0  90,20", "drawn", "drawn 1,1"]
    texts += ["drawn" + " 0,0 99,0" * 500, "drawn 0,0 30,0;0,0 30,0", "drawn 0,0 30,0;0,0 29,0", "account " + "x" * 151]
    wanted = []
    for text in texts:
        try:
            signature_in(text)
            wanted.append("")
        except ValueError as fault:
            wanted.append(str(fault))
    assert ask(page, "signatures.js", "given.map(m.signatureWanted)", texts) == wanted


def test_every_hash_is_the_one_the_office_computes(page):
    vector = json.loads((VECTORS / "chain.json").read_text(encoding="utf-8"))["entries"]
    entries = [entry_from_record(record) for record in vector]
    entries += [entry for seed in range(20) for entry in random_log(seed)]
    records = [entry_record(entry) for entry in entries]
    assert ask(page, "chain.js", "given.map(m.canonicalText)", records) == list(map(canonical_text, entries))
    assert ask(page, "chain.js", "Promise.all(given.map(m.entryHash))", records) == list(map(entry_hash, entries))
    assert [entry_hash(entry) for entry in entries[: len(vector)]] == [record["hash"] for record in vector]


def test_ids_made_on_the_page_are_of_version_7_and_in_the_order_of_time(page):
    made = ask(page, "chain.js", "[1, 1747202400000, 1747202400001].map((ms) => m.newEntryId(ms))")
    assert made == sorted(made)
    assert all(one[14] == "7" and one[19] in "89ab" for one in made)
    assert made[1].replace("-", "")[:12] == f"{1747202400000:012x}"
