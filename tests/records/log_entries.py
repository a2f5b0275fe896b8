"""A survey, and entries as phones make them."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from lapel.fieldlog import Entry, chained
from lapel.records.entry_frame import new_entry_id
from lapel.records.models import Site, Survey

START = datetime(2026, 3, 9, 5, 10, tzinfo=UTC)
LATER = datetime(2026, 3, 9, 16, 0, tzinfo=UTC)


def a_survey(code="V-1", site="S-1"):
    place, _ = Site.objects.get_or_create(code=site, defaults={"name": f"site {site}", "zone": "Europe/Madrid"})
    return Survey.objects.create(code=code, site=place, title=code, assessed_on=date(2026, 3, 9), rule_book="niosh")


def note(sequence, text=None, *, device="phone-1", **changes):
    entry = Entry(
        id=new_entry_id(),
        kind="note",
        at=START + timedelta(minutes=sequence),
        device=device,
        sequence=sequence,
        author="R. Vidal",
        fields={"text": text or f"note {sequence}"},
    )
    return replace(entry, **changes)


def notes(count, *, device="phone-1", first=1, previous_hash=""):
    """Return chained entries of one device."""
    return chained((note(first + k, device=device) for k in range(count)), previous_hash=previous_hash)
