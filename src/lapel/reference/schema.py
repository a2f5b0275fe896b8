"""Rule-book files held against their JSON Schema, with faults a person can act on."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from lapel.reference.problems import FileFault


@cache
def rule_book_schema() -> dict[str, Any]:
    """JSON Schema of a rule-book file, as published in the documentation."""
    text = files("lapel.reference").joinpath("rulebooks", "rule-book.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def shape_faults(document: Mapping[str, Any], file: str) -> list[FileFault]:
    """
    Hold a parsed rule-book file against the schema.

    Parameters
    ----------
    document : mapping
        The file as `tomllib` reads it.
    file : str
        Its name, for the faults.

    Returns
    -------
    list of FileFault
        Every fault of shape, in the file's order; empty when there is none.
    """
    from jsonschema import Draft202012Validator  # not needed, and not loaded, where no file of a user's is read

    errors = Draft202012Validator(rule_book_schema()).iter_errors(document)
    faults = [_fault(error, document, file) for error in errors]
    return sorted(faults, key=lambda fault: fault.where)


def place(document: Mapping[str, Any], path: Iterable[str | int], file: str) -> str:
    """Name a place in a rule-book file as its reader would: “house.toml, rule “flow-change”, tier 2, “effect””."""
    steps = list(path)
    words = [file]
    if len(steps) >= 2 and steps[0] == "rule":
        rule = document["rule"][steps[1]]
        name = rule.get("id") if isinstance(rule, Mapping) else None
        words.append(f"rule “{name}”" if name else f"rule no. {int(steps[1]) + 1}")
        steps = steps[2:]
        if len(steps) >= 2 and steps[0] == "tier":
            words.append(f"tier {int(steps[1]) + 1}")
            steps = steps[2:]
    elif len(steps) >= 2 and steps[0] == "choices":
        words.append(f"choice “{steps[1]}”")
        steps = steps[2:]
    if steps:
        words.append(f"“{'.'.join(str(step) for step in steps)}”")
    return ", ".join(words)


def _fault(error: Any, document: Mapping[str, Any], file: str) -> FileFault:
    where = place(document, error.absolute_path, file)
    if error.validator == "required":
        missing = [name for name in error.validator_value if name not in error.instance]
        return FileFault(where, f"no field {_listed(missing)}", f"a field {_listed(missing)}")
    if error.validator == "additionalProperties":
        known = error.schema.get("properties", {})
        extra = [name for name in error.instance if name not in known]
        return FileFault(where, f"the field {_listed(extra)}", f"only the fields {_listed(known)}")
    if error.validator == "dependentRequired":
        return FileFault(where, "part of a source", "all of “document”, “section”, “certainty” and “clause_unread”")
    wanted = error.schema.get("description")
    if wanted is None:
        wanted = {"array": "a list", "object": "a table", "string": "text in quotation marks"}.get(
            str(error.validator_value), error.message
        )
    return FileFault(where, _shown(error.instance), wanted)


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f"“{name}”" for name in names)


def _shown(value: Any) -> str:
    text = value if isinstance(value, str) else json.dumps(value, default=str, ensure_ascii=False)
    return f"“{text[:60]}”"
