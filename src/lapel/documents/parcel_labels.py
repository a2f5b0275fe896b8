"""What is stuck on a parcel: a label for the outside, and seals over its openings. Nothing on them names a worker."""

from __future__ import annotations

from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from lapel.assessment.dispatch import Shipment
from lapel.assessment.inputs import Survey
from lapel.documents.cells import counted
from lapel.documents.render import Picture, rendered
from lapel.pictures.qr_code import qr_code

SEALS = 4
"""Strips on a sheet: two over the lid, two to spare."""


def parcel_labels(survey: Survey, shipment: Shipment, *, dated: date, sender: str = "", receiver: str = "") -> bytes:
    """
    Set the label and the seals of a parcel as one sheet.

    Parameters
    ----------
    survey : Survey
        For its place and clock.
    shipment : Shipment
        What is in the parcel.
    dated : date
        Date in the document's properties.
    sender, receiver : str
        Who sends, and the laboratory.
    """
    data = labels_data(survey, shipment, sender=sender, receiver=receiver)
    return rendered("parcel_labels", data, title=f"Label and seals, parcel {shipment.parcel.code}", dated=dated)


def labels_data(survey: Survey, shipment: Shipment, *, sender: str = "", receiver: str = "") -> dict[str, Any]:
    """Everything the sheet says, as texts and pictures."""
    zone, parcel = ZoneInfo(survey.site.zone), shipment.parcel
    air, blanks = shipment.counts
    until, warm = shipment.latest_arrival, shipment.receipt_max_c
    drawn = qr_code(parcel.code)
    of_blanks = counted(blanks, "blank") if blanks else "no blanks"
    facts = [
        ("In it", f"{counted(air, 'air sample')}, {of_blanks}: {len(shipment.samples)} in all"),
        ("From", sender),
        ("To", receiver),
        ("Keep at", f"at most {warm:g} °C" if warm is not None else ""),
        ("Begin analysis by", f"{until.astimezone(zone):%Y-%m-%d %H:%M}" if until is not None else ""),
    ]
    return {
        "parcel": parcel.code,
        "qr": Picture(drawn.svg(), drawn.words),
        "seal": parcel.seal,
        "facts": [[name, words] for name, words in facts if words],
        "care": "Glass inside. Do not open: the laboratory breaks the seal.",
        "seals": [parcel.seal or parcel.code] * SEALS,
    }
