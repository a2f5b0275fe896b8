"""
The form that goes with a parcel: what is in it, what is asked for, through whose hands it goes.

One document gives the copies for the laboratory, the sender and the file. Nothing on it says who wore a sampler. An
issue that replaces another says so, and which: the one before it stays what it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, TypeAlias
from zoneinfo import ZoneInfo

from lapel.assessment.dispatch import Request, SentSample, Shipment
from lapel.assessment.inputs import Survey
from lapel.documents.cells import NOTHING, counted, minutes_cell
from lapel.documents.render import Picture, rendered
from lapel.fieldlog.signatures import Signature
from lapel.figures import significant
from lapel.pictures.qr_code import qr_code
from lapel.pictures.signature import signature_picture

Copy: TypeAlias = Literal["for the laboratory", "for the sender", "for the file"]
COPIES: tuple[Copy, ...] = ("for the laboratory", "for the sender", "for the file")

EMPTY_HOPS = 3
"""Empty lines for hands the parcel has yet to go through."""

FOOT = "Glass inside: open with care. Volumes and times are the sender's; results relate to the samples as received."
MASS_WANTED = (
    "Please report for every sampler and analyte: mass on the front and on the back section, blanks as measured, "
    "recovery and whether it was applied, whether a blank was taken off, "
    "reporting limit, uncertainty; condition on receipt."
)
RECEIPT = (
    "Received by, day and time",
    "Seal whole, number as above",
    "Temperature on receipt",
    "Count as listed; damaged or missing",
    "Discrepancies, and whom you asked",
)


@dataclass(frozen=True, slots=True)
class Issue:
    """
    Which issue of the form this is.

    Attributes
    ----------
    number : int
        1 for the first.
    made_at : datetime
        When it was made.
    made_by : str
        Who sends.
    reason : str
        Why it replaces the one before; empty for the first.
    report_to, laboratory, turnaround : str
        Who is to get the report, who is to analyse, and by when a report is wanted.
    """

    number: int
    made_at: datetime
    made_by: str = ""
    reason: str = ""
    report_to: str = ""
    laboratory: str = ""
    turnaround: str = ""


def custody_copies(survey: Survey, shipment: Shipment, issue: Issue, copies: Sequence[Copy] = COPIES) -> bytes:
    """
    Set the form of a parcel as PDF, its copies one after another; the same shipment and issue give the same bytes.

    Parameters
    ----------
    survey : Survey
        For title, place and clock.
    shipment : Shipment
        What is in the parcel.
    issue : Issue
        Which issue of the form it is.
    copies : sequence of str
        Which of the three.
    """
    made = issue.made_at.astimezone(ZoneInfo(survey.site.zone))
    data = {"copies": list(copies), **form_data(survey, shipment, issue)}
    return rendered("custody", data, title=f"Chain of custody, parcel {shipment.parcel.code}", dated=made.date())


def form_data(survey: Survey, shipment: Shipment, issue: Issue) -> dict[str, Any]:
    """Everything the form says, as texts and pictures."""
    zone = ZoneInfo(survey.site.zone)
    parcel = shipment.parcel
    made = issue.made_at.astimezone(zone)
    return {
        "heading": f"Parcel {parcel.code}",
        "under": f"{survey.title} · {survey.site.name}",
        "issue": f"Issue {issue.number}, {made:%Y-%m-%d %H:%M}",
        "foot": FOOT,
        "qr": _qr(parcel.code),
        "amends": f"This replaces issue {issue.number - 1}: {issue.reason}" if issue.number > 1 else "",
        "sender": [[name, text] for name, text in _sender(survey, shipment, issue, zone) if text],
        "needs": [[name, text] for name, text in _needs(shipment, issue, zone) if text],
        "matters": [f"{matter.words} {matter.remedy}" for matter in shipment.matters],
        "counts": counts_in_words(shipment),
        "rows": [_row(number, sample, zone) for number, sample in enumerate(shipment.samples, start=1)],
        "custody-words": custody_words(shipment),
        "hops": _hops(shipment, zone),
        "receipt": [[line, ""] for line in RECEIPT],
        "tell": MASS_WANTED,
    }


def counts_in_words(shipment: Shipment) -> str:
    """How many lie in the parcel, by media and lots."""
    air, blanks = shipment.counts
    lots: dict[tuple[str, str], int] = {}
    for sample in shipment.samples:
        lots[sample.medium, sample.lot] = lots.get((sample.medium, sample.lot), 0) + 1
    listed = "; ".join(
        f"{count} × {medium or 'medium not recorded'}, {f'lot {lot}' if lot else 'lot not recorded'}"
        for (medium, lot), count in lots.items()
    )
    of_blanks = counted(blanks, "blank") if blanks else "no blanks"
    return f"{counted(air, 'air sample')} and {of_blanks}, {len(shipment.samples)} in all: {listed}."


def custody_words(shipment: Shipment) -> str:
    """Who has it now, and what is not known of its way."""
    parcel = shipment.parcel
    words = [f"Held by {parcel.holder}." if parcel.holder else "Nobody is recorded as holding it."]
    words += [
        f"Nobody recorded how it came from {gap.last_holder} to {gap.next_giver} ({significant(gap.hours, 2)} h)."
        for gap in parcel.gaps
    ]
    if parcel.seal_broken:
        words.append("The seal was found broken.")
    return " ".join(words)


def request_words(request: Request) -> str:
    """One analyte with its CAS number and method."""
    cas = f" ({request.cas})" if request.cas else ""
    return f"{request.name}{cas}, {request.method}"


def expected_words(request: Request) -> str:
    """What may be on it: a tenth of the limit to the limit, and the reporting limit that was promised."""
    parts = []
    if request.low_ug is not None and request.high_ug is not None:
        parts.append(f"{significant(request.low_ug, 2)} to {significant(request.high_ug, 2)} µg")
    if request.reporting_limit_ug is not None:
        parts.append(f"report from {significant(request.reporting_limit_ug, 2)} µg")
    return f"{request.name}: {', '.join(parts)}" if parts else ""


def _row(number: int, sample: SentSample, zone: ZoneInfo) -> dict[str, Any]:
    until = sample.hold_until.astimezone(zone) if sample.hold_until else None
    cold = f"at most {sample.receipt_max_c:g} °C" if sample.receipt_max_c is not None else ""
    return {
        "number": str(number),
        "qr": _qr(sample.sampler),
        "sampler": sample.sampler,
        "kind": sample.kind + (f", {sample.taken_on.isoformat()}" if sample.taken_on else ""),
        "medium": sample.medium or NOTHING,
        "lot": sample.lot or NOTHING,
        "minutes": minutes_cell(sample.minutes) if sample.kind == "air sample" else "",
        "volume": _volume(sample),
        "requests": "; ".join(request_words(request) for request in sample.requests) or NOTHING,
        "expected": "; ".join(filter(None, (expected_words(request) for request in sample.requests))),
        "by": "; ".join(filter(None, (f"{until:%Y-%m-%d %H:%M}" if until else "", cold))),
    }


def _volume(sample: SentSample) -> str:
    if sample.kind != "air sample":
        return "no air"
    return significant(sample.volume_l) if sample.volume_l is not None else "not known"


def _sender(survey: Survey, shipment: Shipment, issue: Issue, zone: ZoneInfo) -> list[tuple[str, str]]:
    parcel = shipment.parcel
    sealed = f"{parcel.sealed_at.astimezone(zone):%Y-%m-%d %H:%M} by {parcel.sealed_by}" if parcel.sealed_at else ""
    return [
        ("Sender", issue.made_by or survey.prepared_by),
        ("Report to", issue.report_to),
        ("Sealed", sealed),
        ("Seal", parcel.seal),
        ("Temperature out", f"{parcel.temperature} {parcel.temperature_unit}".strip()),
        ("Clock", f"{survey.site.zone}; all times are of this clock"),
    ]


def _needs(shipment: Shipment, issue: Issue, zone: ZoneInfo) -> list[tuple[str, str]]:
    arrival = shipment.latest_arrival
    warm = shipment.receipt_max_c
    return [
        ("Laboratory", issue.laboratory),
        (
            "Begin analysis by",
            f"{arrival.astimezone(zone):%Y-%m-%d %H:%M}, the first holding time to end" if arrival else "",
        ),
        ("On receipt at most", f"{warm:g} °C" if warm is not None else ""),
        ("Report wanted by", issue.turnaround),
    ]


def signed_words(signature: Signature | None) -> str:
    """How somebody signed; nothing where nobody did, and for a drawing, which speaks for itself."""
    if signature is None or signature.how == "drawn":
        return ""
    return f"account {signature.account}" if signature.how == "account" else "on paper"


def _hops(shipment: Shipment, zone: ZoneInfo) -> list[list[str | Picture]]:
    rows: list[list[str | Picture]] = [
        [
            f"{hand.hop.at.astimezone(zone):%Y-%m-%d %H:%M}" + (", corrected later" if hand.corrected else ""),
            _person(hand.hop.giver, hand.giver_firm),
            _signed(hand.giver_signature, hand.hop.giver),
            _person(hand.hop.receiver, hand.receiver_firm),
            _signed(hand.receiver_signature, hand.hop.receiver),
            {True: "yes", False: "no", None: "not looked"}[hand.hop.seal_intact],
            f"{hand.hop.temperature} {hand.hop.temperature_unit}".strip() or NOTHING,
        ]
        for hand in shipment.hands
    ]
    return rows + [["\u00a0", *[""] * 6] for _ in range(EMPTY_HOPS)]


def _person(name: str, firm: str) -> str:
    return f"{name}, {firm}" if firm else name


def _signed(signature: Signature | None, name: str) -> str | Picture:
    if signature is not None and signature.how == "drawn":
        return Picture(signature_picture(signature.lines), f"Signature drawn by {name}")
    return signed_words(signature)


def _qr(text: str) -> Picture:
    drawn = qr_code(text)
    return Picture(drawn.svg(), drawn.words)
