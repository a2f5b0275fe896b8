"""What lies on the pages Dispatch and Results of the browser tests: parcels in every state, files in every state."""

from __future__ import annotations

from typing import Any

from cast import EXAMPLES
from odd_reports import with_masses_exchanged

QUESTIONS, SWAPPED, ASIDE, FIRST, AMENDED, NEAR = range(1, 7)
"""Numbers of the delivered files, in the order in which they are brought in."""

SMALL = EXAMPLES / "small" / "laboratory" / "AB-26-1187.csv"
HARD = EXAMPLES / "hard" / "laboratory"
PLAIN = {"received": "2026-05-04", "laboratory": "Alder Bay laboratory (invented)", "code": "AB-26-1187"}


def fill(cast: Any) -> None:
    """Bring files in, answer some, take some over, and issue a form twice; a second survey holds what is taken over."""
    from lapel.exchange.delivered_records import accept_delivered, keep_delivered, set_aside
    from lapel.exchange.record_transfer import import_survey
    from lapel.records.append import append_act

    by = cast.lead
    sent = import_survey(EXAMPLES / "small", survey_code="sent", site_code="boatyard", user=by).survey
    sent.results.all().delete()
    sent.laboratoryreports.all().delete()
    append_act("blank_opened", {"blank": "L-108", "use": "field", "lot": "CH-7714"}, survey=sent, author=by)
    append_act("parcel_sealed", {"parcel": "K-2", "samplers": "L-101 L-109", "seal": "880-42"}, survey=sent, author=by)

    keep_delivered(cast.survey, "GA-4822.csv", (HARD / "GA-4822.csv").read_bytes(), by=by)
    swapped = keep_delivered(
        cast.survey, "exchanged.xlsx", with_masses_exchanged((HARD / "GA-4821.xlsx").read_bytes()), by=by
    )
    settle(swapped, by=by, code="GA-4821")
    unused = keep_delivered(cast.survey, "of-another-survey.csv", SMALL.read_bytes(), by=by)
    set_aside(unused, by=by, reason="It belongs to the survey of the hull workshop.")

    content = SMALL.read_text("utf-8")
    first = keep_delivered(sent, "AB-26-1187.csv", content.encode(), by=by)
    settle(first, by=by)
    accept_delivered(first, by=by)
    amended = keep_delivered(sent, "AB-26-1187-amended.csv", content.replace(",1520,", ",1620,").encode(), by=by)
    settle(amended, by=by)
    accept_delivered(amended, by=by)
    odd = (
        content.replace("L-101", "L 101").replace("L-103", "PATIO-3").replace("10.31", "20.6").replace("L-104", "QC-1")
    )
    name = "a-file-with-names-that-are-not-quite-the-ones-on-the-labels-2026-05-11.csv"
    near = keep_delivered(sent, name, odd.encode(), by=by)
    settle(near, by=by)


def settle(delivered: Any, *, by: Any, **facts: str) -> None:
    """Answer what a file asks of its reading: what is known, “nobody”, else the first answer offered."""
    from lapel.exchange.delivered_records import answer, read_delivered

    known = PLAIN | facts
    for _ in range(40):
        questions = read_delivered(delivered).proposal.questions
        if not questions:
            return
        asked = questions[0]
        choices = [choice.answer for choice in asked.choices]
        plain = next((text for part, text in known.items() if part in asked.key), "2")
        answer(delivered, asked.key, "nobody" if "nobody" in choices else choices[0] if choices else plain, by=by)
    raise AssertionError(f"still asked: {questions[0]}")
