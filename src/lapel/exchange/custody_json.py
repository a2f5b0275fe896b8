"""A shipment as open data, for the laboratory's own system."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from lapel.assessment.dispatch import SentSample, Shipment
from lapel.assessment.inputs import Survey
from lapel.fieldlog.signatures import Signature

FORMAT = "lapel-custody"
FORMAT_VERSION = 1


def custody_as_data(
    survey: Survey, shipment: Shipment, *, issue: int = 1, made_at: datetime | None = None, reason: str = ""
) -> dict[str, Any]:
    """
    Lay a shipment out as JSON-ready data; described in docs/reference/custody-json.md.

    Nothing in it says who wore a sampler.
    """
    parcel = shipment.parcel
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "survey": survey.title,
        "parcel": parcel.code,
        "issue": issue,
        "made_at": _instant(made_at),
        "replaces_because": reason,
        "seal": parcel.seal,
        "sealed_at": _instant(parcel.sealed_at),
        "sealed_by": parcel.sealed_by,
        "temperature_out": {"value": parcel.temperature, "unit": parcel.temperature_unit},
        "latest_arrival": _instant(shipment.latest_arrival),
        "receipt_max_c": shipment.receipt_max_c,
        "samples": [_sample(sample) for sample in shipment.samples],
        "custody": [
            {
                "at": _instant(hand.hop.at),
                "given_by": hand.hop.giver,
                "given_firm": hand.giver_firm,
                "given_signature": _signature(hand.giver_signature),
                "taken_by": hand.hop.receiver,
                "taken_firm": hand.receiver_firm,
                "taken_signature": _signature(hand.receiver_signature),
                "corrected_later": hand.corrected,
                "seal_intact": hand.hop.seal_intact,
                "temperature": {"value": hand.hop.temperature, "unit": hand.hop.temperature_unit},
            }
            for hand in shipment.hands
        ],
        "gaps": [
            {"after": _instant(g.after), "until": _instant(g.until), "hours": g.hours, "last_holder": g.last_holder,
             "next_giver": g.next_giver}
            for g in parcel.gaps
        ],
        "seal_broken": parcel.seal_broken,
        "held_by": parcel.holder,
        "matters": [
            {"kind": m.kind, "weight": m.weight, "samplers": list(m.samplers), "words": m.words, "remedy": m.remedy}
            for m in shipment.matters
        ],
    }  # fmt: skip


def _sample(sample: SentSample) -> dict[str, Any]:
    return {
        "sampler": sample.sampler,
        "kind": sample.kind,
        "medium": sample.medium,
        "lot": sample.lot,
        "taken_on": sample.taken_on.isoformat() if sample.taken_on else None,
        "minutes": sample.minutes,
        "volume_l": sample.volume_l,
        "hold_until": _instant(sample.hold_until),
        "receipt_max_c": sample.receipt_max_c,
        "analytes": [
            {
                "agent": request.agent,
                "name": request.name,
                "cas": request.cas,
                "method": request.method,
                "reporting_limit_ug": request.reporting_limit_ug,
                "expected_ug": None if request.low_ug is None else [request.low_ug, request.high_ug],
            }
            for request in sample.requests
        ],
    }


def _signature(signature: Signature | None) -> dict[str, Any] | None:
    if signature is None:
        return None
    lines = [[list(point) for point in line] for line in signature.lines]
    return {"how": signature.how, "account": signature.account, "lines": lines}


def _instant(at: datetime | None) -> str | None:
    return at.isoformat() if at else None
