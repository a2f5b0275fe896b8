"""Documents people were given, in a dossier: each byte for byte with its hash, or named with why it is not there."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal, TypeAlias

KEPT = "documents/kept/"
"""Where they stand in a dossier."""
KEPT_LIST = "records/kept-documents.json"
KEPT_SCHEMA = "kept-documents.schema.json"

State: TypeAlias = Literal["here", "withheld", "damaged"]
STATES: Mapping[State, str] = {
    "here": "it is in the dossier, byte for byte",
    "withheld": "it names people by code or in free text and is left out of what is made for a request",
    "damaged": "what was stored is no longer what its hash says, and is left out",
}


_UNSAFE = re.compile(r"[^\w.-]")


@dataclass(frozen=True, slots=True)
class KeptFile:
    """
    A document as somebody was given it.

    Attributes
    ----------
    number : int
        Its number in the list of kept documents.
    name, kind : str
        File name and media type.
    sha256 : str
        Of its bytes, as it was kept.
    input_sha256 : str
        Of the inputs it was made from.
    made_at : datetime
        When.
    made_by : str
        Who had it made.
    state : str
        One of `STATES`.
    content : Path or None
        File with its bytes, where it is here.
    """

    number: int
    name: str
    kind: str
    sha256: str
    input_sha256: str
    made_at: datetime
    made_by: str
    state: State
    content: Path | None = None

    @property
    def path(self) -> str | None:
        """Where it stands in the dossier, under a name every zip reader takes; None where it does not."""
        return f"{KEPT}{self.number}-{_UNSAFE.sub('_', self.name)}" if self.state == "here" else None

    def as_data(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "number": self.number,
            "name": self.name,
            "file": self.path,
            "state": self.state,
            "kind": self.kind,
            "sha256": self.sha256,
            "input_sha256": self.input_sha256,
            "made_at": self.made_at.isoformat(),
            "made_by": self.made_by,
        }


def kept_contents(kept: Sequence[KeptFile]) -> Iterator[tuple[str, tuple[bytes | Path, str]]]:
    """Give the list and every document that is here, by path in the dossier, with what each is."""
    text = json.dumps([one.as_data() for one in kept], ensure_ascii=False, indent=1)
    yield KEPT_LIST, (f"{text}\n".encode(), "documents people were given, each with its hash")
    for one in kept:
        if one.path is not None and one.content is not None:
            yield one.path, (one.content, f"document as it was given, made {one.made_at.date().isoformat()}")


def kept_schema() -> dict[str, Any]:
    """JSON Schema of the list."""
    text, sha256 = {"type": "string"}, {"type": "string", "pattern": "^[0-9a-f]{64}$"}
    row = {
        "number": {"type": "integer", "minimum": 1},
        "name": {**text, "description": "file name it was given under; “(withheld)” where it holds a worker's code"},
        "file": {"type": ["string", "null"], "description": "path in this dossier; null where it is not here"},
        "state": {"enum": list(STATES), "description": "; ".join(f"{key}: {words}" for key, words in STATES.items())},
        "kind": {**text, "description": "media type"},
        "sha256": {**sha256, "description": "of the document's bytes, as it was kept"},
        "input_sha256": {**text, "description": "of the inputs it was made from, as in manifest.json"},
        "made_at": {**text, "format": "date-time"},
        "made_by": {**text, "description": "who had it made; “(withheld)” in what is made for a request"},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": KEPT_LIST,
        "description": "Documents people were given of this survey.",
        "type": "array",
        "items": {"type": "object", "properties": row, "required": list(row), "additionalProperties": False},
    }


@dataclass(frozen=True, slots=True)
class KeptFound:
    """What was found of kept documents: the inputs of each that is here, how many are withheld, what is wrong."""

    inputs: tuple[str, ...]
    withheld: int
    faults: tuple[str, ...]


def kept_found(text: str, listed: Mapping[str, Mapping[str, Any]], *, stated: int) -> KeptFound:
    """
    Hold the list of kept documents against the files of a dossier.

    Parameters
    ----------
    text : str
        Content of the list.
    listed : mapping of str to mapping
        Rows of the manifest by path; that the files are as listed there is checked apart.
    stated : int
        How many documents the manifest says there are.

    Raises
    ------
    ValueError
        The list cannot be read.
    """
    try:
        rows = json.loads(text)
        named = {row["file"]: row for row in rows if row["state"] == "here"}
        damaged = [row for row in rows if row["state"] == "damaged"]
        withheld = sum(row["state"] == "withheld" for row in rows)
        faults = [f"{row['name']}, made {row['made_at']}: {STATES['damaged']}" for row in damaged]
        inputs = tuple(str(row["input_sha256"]) for row in named.values())
        faults += [
            f"{path} is not what was kept: {listed[path]['sha256']} instead of {row['sha256']}"
            for path, row in named.items()
            if path in listed and listed[path]["sha256"] != row["sha256"]
        ]
    except (TypeError, KeyError, ValueError) as problem:
        raise ValueError(f"{KEPT_LIST} cannot be read ({type(problem).__name__}: {problem})") from problem
    faults += [f"{path} is in the list of kept documents and not there" for path in named if path not in listed]
    faults += [f"{path} is not in the list" for path in listed if path.startswith(KEPT) and path not in named]
    if len(rows) != stated:
        faults.append(f"{stated} documents were kept, {len(rows)} are in the list")
    return KeptFound(inputs, withheld, tuple(faults))
