"""A damaged survey folder is refused with named places, or reads exactly as before; never anything else."""

import random
import shutil
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from mutations import COLUMNS, MUTATIONS, load, save, tables_of

from lapel.assessment.inputs import Survey
from lapel.exchange import InputProblems, read_survey
from lapel.fieldlog import check_entry

EXAMPLES = Path(__file__).parents[2] / "examples"
SEEDS = {"small": range(12), "hard": range(12, 16)}
ODD_VALUES = [
    "[]", "{}", "nan", "inf", "-1", "1e400", "9" * 5000, "true", '""', '"x"', '"../../x.csv"', "[[1], [2]]",
    "2026-02-30", "1979-05-27T07:32:00Z", "07:32:00", "'''a\nb'''", "[" * 2000, "{a = {b = 1}}", '"a;b"', "0",
]  # fmt: skip
BEFORE = {name: read_survey(EXAMPLES / name) for name in SEEDS}


def without_hashes(survey: Survey) -> Survey:
    """The survey but for the hashes of its files, which change when only their spelling does."""
    reports = {code: replace(report, sha256="") for code, report in survey.reports.items()}
    return replace(survey, input_sha256="", reports=reports)


def pieces(survey: Survey) -> Counter[str]:
    """Everything a survey holds, but for where in its file it stood."""
    found: list[object] = [survey.title, survey.site, survey.rule_book, survey.assessed_on, survey.compared_rule_books]
    for part in (
        survey.groups, survey.workers, survey.shifts, survey.agents, survey.methods, survey.media_lots, survey.pumps,
        survey.splitters, survey.meters, survey.orders,
    ):  # fmt: skip
        found += [replace(item, origin="") for item in part.values()]
    found += [replace(item, origin="") for item in (*survey.limits, *survey.overrides, *survey.results)]
    found += [replace(report, sha256="", origin="") for report in survey.reports.values()]
    found += [replace(entry, id="", origin="") for entry in survey.entries]
    found += list(survey.notes.items())
    return Counter(map(repr, found))


def assert_named(problems: InputProblems, file: str = "") -> None:
    assert problems.count >= len(problems.problems) > 0
    assert list(problems) == sorted(problems, key=lambda problem: problem.where.order())
    for problem in problems:
        assert all((problem.where.file, problem.found, problem.wanted, problem.remedy))
        assert problem.where.row is None or problem.where.row >= 1
    if file:
        # what is missing may also be named where something refers to it, by the file that lost it
        assert any(problem.where.file == file or file in str(problem) for problem in problems), str(problems)


def assert_sound(survey: Survey) -> None:
    """What is read can be used: no entry is refused by the log, every mass is a mass."""
    assert [str(problem) for entry in survey.entries for problem in check_entry(entry)] == []
    assert all(0.0 <= result.front_ug < 1e8 for result in survey.results)


def outcome(root: Path) -> Survey | InputProblems:
    """What reading comes to; any other exception is the failure looked for."""
    try:
        return read_survey(root)
    except InputProblems as problems:
        return problems


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    root = tmp_path_factory.mktemp("folder")

    def fresh(example: str) -> Path:
        shutil.rmtree(root / example, ignore_errors=True)
        shutil.copytree(EXAMPLES / example, root / example)
        return root / example

    return fresh


@pytest.mark.parametrize("mutation", MUTATIONS, ids=lambda mutation: mutation.__name__)
@pytest.mark.parametrize("example", SEEDS)
def test_a_damaged_folder_is_refused_with_places_or_reads_as_before(folder, example, mutation):
    done = 0
    for seed in SEEDS[example]:
        root = folder(example)
        damage = mutation(root, random.Random(f"{mutation.__name__} {seed}"))
        if damage is None:
            continue
        done += 1
        read = outcome(root)
        if isinstance(read, InputProblems):
            assert damage.expect != "same", f"{damage}\n{read}"
            assert_named(read, damage.file if damage.expect == "fault" else "")
            continue
        assert damage.expect != "fault", f"{damage} was read without a word"
        assert_sound(read)
        if damage.expect == "fault or less":
            assert not pieces(read) - pieces(BEFORE[example]), damage
        else:
            assert without_hashes(read) == without_hashes(BEFORE[example]), damage
    assert done or mutation.__name__ == "altered_device_entry"


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    data=st.data(), text=st.one_of(st.text(max_size=30), st.sampled_from(["0", "-1", "1e-400", "９", "=1+1", "٣", "½"]))
)
def test_any_text_in_any_cell_is_refused_or_kept_as_typed(folder, data, text):
    root = folder("small")
    name = data.draw(st.sampled_from([name for name in tables_of(root) if name in COLUMNS]))
    rows = load(root, name)
    number = data.draw(st.integers(1, len(rows) - 1))
    index = data.draw(st.integers(0, len(rows[0]) - 1))
    rows[number][index] = text
    try:
        save(root, name, rows)
    except UnicodeEncodeError:
        return
    survey = outcome(root)
    if isinstance(survey, InputProblems):
        assert_named(survey)
        return
    assert_sound(survey)
    changed = pieces(survey) - pieces(BEFORE["small"])
    typed = text.strip()
    if rows[0][index] in ("author", "id", "at") or not typed or not name.startswith("log/"):
        return
    kept = [entry.fields.get(rows[0][index]) for entry in survey.entries if entry.origin == f"{name}, row {number + 1}"]
    assert kept == [typed] or not changed or COLUMNS[name][rows[0][index]].type == "date-time"


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), noise=st.binary(max_size=200))
def test_any_bytes_in_any_place_never_end_in_another_exception(folder, data, noise):
    root = folder("hard")
    path = data.draw(st.sampled_from(sorted(path for path in root.rglob("*") if path.is_file())))
    content = path.read_bytes()
    start = data.draw(st.integers(0, len(content)))
    length = data.draw(st.integers(0, 200))
    path.write_bytes(content[:start] + noise + content[start + length :])
    read = outcome(root)
    assert_named(read) if isinstance(read, InputProblems) else assert_sound(read)


@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_value_of_any_document_key_is_refused_or_read(folder, data):
    root = folder("hard")
    path = data.draw(st.sampled_from(sorted(root.rglob("*.toml"))))
    lines = path.read_text(encoding="utf-8").splitlines()
    number = data.draw(st.sampled_from([n for n, line in enumerate(lines) if " = " in line]))
    value = data.draw(st.sampled_from(ODD_VALUES))
    lines[number] = lines[number].split(" = ")[0] + " = " + value
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    read = outcome(root)
    assert_named(read) if isinstance(read, InputProblems) else assert_sound(read)
