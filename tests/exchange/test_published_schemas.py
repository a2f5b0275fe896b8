"""The page and the JSON Schemas of the survey folder say what the reader does."""

import csv
import json
import sys
import tomllib
from pathlib import Path

import jsonschema
import pytest

from lapel.exchange.survey_folder.columns import Document, Table
from lapel.exchange.survey_folder.schemas import schema_names

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(path for path in (ROOT / "examples").iterdir() if (path / "survey.toml").exists())
sys.path.insert(0, str(ROOT / "docs"))
import make_survey_folder as published  # noqa: E402


def schema(name):
    return json.loads((published.SCHEMAS / name).read_text(encoding="utf-8"))


def rows_of(path):
    with path.open(newline="", encoding="utf-8") as file:
        return [{name: text for name, text in row.items() if text} for row in csv.DictReader(file)]


def as_json(value):
    if isinstance(value, dict):
        return {key: as_json(inner) for key, inner in value.items()}
    return value if isinstance(value, bool | int | float | str | list) else value.isoformat()


def test_the_page_is_written_from_the_layout():
    assert published.PAGE.read_text(encoding="utf-8") == published.page(), "run: python docs/make_survey_folder.py"
    assert published.PLAN_PAGE.read_text(encoding="utf-8") == published.plan_page()


def test_the_schemas_are_written_from_the_layout():
    assert {path.name for path in published.SCHEMAS.glob("*.schema.json")} == set(schema_names())
    for name in schema_names():
        text = (published.SCHEMAS / name).read_text(encoding="utf-8")
        assert text == published.schema_text(name), "run: python docs/make_survey_folder.py"
        jsonschema.Draft202012Validator.check_schema(schema(name))


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.name)
def test_the_examples_fit_the_schemas(example):
    checked = 0
    for name, part in schema_names().items():
        if isinstance(part, Document):
            for path in sorted(example.glob(part.file)):
                jsonschema.validate(as_json(tomllib.loads(path.read_text(encoding="utf-8"))), schema(name))
                checked += 1
        elif isinstance(part, Table) and (example / part.file).exists():
            jsonschema.validate(rows_of(example / part.file), schema(name))
            checked += 1
        elif part is None:
            for path in sorted(example.glob("log/*.jsonl")):
                for line in path.read_text(encoding="utf-8").splitlines():
                    jsonschema.validate(json.loads(line), schema(name))
    assert checked > 16


@pytest.mark.parametrize(
    ("name", "wrong"),
    [
        ("shifts.schema.json", {"code": "S", "worker": "W", "start": "1.3.2026 6:00", "end": "2026-03-01T14:00"}),
        ("shifts.schema.json", {"code": "S", "worker": "W", "start": "2026-03-01T06:00"}),
        ("samples.schema.json", {"sampler": "A", "shift": "S", "purpose": "fulshift", "methods": "m"}),
        ("log-flow_read.schema.json", {"at": "2026-03-01T06:00", "train": "T", "port": "A", "phase": "closing",
                                       "meter": "M", "reading": "0,102", "unit": "L/min"}),
        ("workers.schema.json", {"code": "W-1", "group": "G", "name": "not here"}),
    ],
)  # fmt: skip
def test_a_schema_refuses_what_the_reader_refuses(name, wrong):
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate([wrong], schema(name))
