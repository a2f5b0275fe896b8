"""What goes over the wire, in both directions; the published OpenAPI is made from it."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from ninja import Field, Schema
from pydantic import AfterValidator, AwareDatetime, WithJsonSchema

from lapel.fieldlog import KINDS
from lapel.records.entry_frame import EARLIEST, LATEST

MOST_ENTRIES = 200
"""Entries one delivery may hold."""

_ID = "^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$"
_HASH = {"type": "string", "pattern": "^[0-9a-f]{64}$"}

ENTRY: dict[str, Any] = {
    "type": "object",
    "description": (
        "One act in the field, as recorded. Each entry is held against its kind on its own: one that cannot be read is "
        "refused with words and kept, the others are taken. What the office adds (receipt, received_at) is left out."
    ),
    "properties": {
        "id": {"type": "string", "pattern": _ID, "description": "UUIDv7 made on the device"},
        "kind": {"type": "string", "enum": list(KINDS)},
        "at": {"type": "string", "format": "date-time", "description": "when, by the device's clock, with its offset"},
        "device": {"type": "string", "description": "the device's code, as paired"},
        "sequence": {"type": "integer", "minimum": 1, "description": "the device's own count"},
        "author": {"type": "string", "description": "who recorded it"},
        "fields": {"type": "object", "additionalProperties": {"type": "string"}, "description": "as typed"},
        "corrects": {"type": "string", "description": "in a correction: the entry it corrects"},
        "reason": {"type": "string", "description": "in a correction: why"},
        "previous_hash": {
            "anyOf": [_HASH, {"const": ""}],
            "description": "the device's entry before; empty in the first",
        },
        "hash": {**_HASH, "description": "SHA-256 over the canonical text"},
    },
    "required": ["id", "kind", "at", "device", "sequence", "author", "fields", "hash"],
}


def _of_our_time(at: datetime) -> datetime:
    if not EARLIEST <= at.year <= LATEST:
        raise ValueError(f"found the year {at.year}; wanted one from {EARLIEST} to {LATEST}")
    return at


class Parcel(Schema):
    """What a device delivers: entries of one survey, in any order, at most 200."""

    survey: str = Field(max_length=120, description="the survey's code")
    sent_at: Annotated[AwareDatetime, AfterValidator(_of_our_time)] | None = Field(
        None, description="the device's clock when it sent this; a clock that is off is measured, never refused"
    )
    last_made: int | None = Field(
        None, ge=0, le=2**63 - 1, description="the highest sequence the device has made, sent or not"
    )
    entries: list[Annotated[Any, WithJsonSchema(ENTRY)]] = Field(max_length=MOST_ENTRIES)


class SaidOfItself(Schema):
    """What a device says of itself when nothing waits to be sent; both may be left out."""

    sent_at: Annotated[AwareDatetime, AfterValidator(_of_our_time)] | None = Field(
        None, description="the device's clock"
    )
    last_made: int | None = Field(None, ge=0, le=2**63 - 1, description="the highest sequence the device has made")


class Problem(Schema):
    """What keeps an entry out: the field, what was found, what is wanted."""

    field: str
    found: str
    wanted: str


class RefusedAnswer(Schema):
    """Why an entry was not taken, and its number here; `kept_receipt` is the entry that had its id first."""

    number: int
    problems: list[Problem]
    kept_receipt: int | None = None


class ChainRemark(Schema):
    """What the device's chain shows around an entry that was taken: a gap, a fork or a loose link."""

    entry_id: str
    sequence: int
    found: str
    wanted: str


class Answer(Schema):
    """What became of every entry. A device forgets an entry only when `confirmed` names its id."""

    received_at: AwareDatetime
    clock_ahead_s: float | None = Field(
        None, description="the device's clock less the office's, delivery time included"
    )
    confirmed: list[str]
    receipts: dict[str, int] = Field(description="the office's number for each confirmed entry")
    refused: dict[str, RefusedAnswer]
    chain: list[ChainRemark]


class SurveyName(Schema):
    """A survey the device may deliver to."""

    code: str
    title: str


class DeviceAnswer(Schema):
    """Who the device is, and how far the office has its chain: a device that lost its memory goes on from there."""

    code: str
    name: str
    site: str
    zone: str
    last_sequence: int
    last_hash: str
    surveys: list[SurveyName]


class PairingCode(Schema):
    """What the office shows, to be traded for the device's key."""

    code: str = Field(max_length=100, description="ten letters and digits; blanks, hyphens and case do not matter")


class Paired(Schema):
    """The device's key, given this once, and who the device is."""

    key: str = Field(description="to be sent as bearer token with everything from now on")
    device: DeviceAnswer


class KeptEntry(Schema):
    """An entry the office has, with its receipt."""

    receipt: int
    entry: dict[str, Any] = Field(description="as recorded, with the office's received_at")


class DayAnswer(Schema):
    """Entries of a survey in the order of their receipts; ask again after `last_receipt` while there is `more`."""

    survey: str
    last_receipt: int
    more: bool
    entries: list[KeptEntry]


class ConflictAnswer(Schema):
    """A refused entry no person has settled yet: as it was sent, and the one kept under its id."""

    number: int
    entry_id: str
    device: str
    received_at: AwareDatetime
    problems: list[Problem]
    sent: str = Field(description="the JSON it came as, letters beyond ASCII escaped")
    kept_receipt: int | None = None
    kept: dict[str, Any] | None = None


class Words(Schema):
    """Why a request was not answered."""

    detail: str


class Faults(Schema):
    """What in a request cannot be read."""

    detail: list[dict[str, Any]]
