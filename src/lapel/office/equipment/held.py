"""What the logs of a site tell of its equipment, worked once and held until an entry comes in."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock

from django.db.models import OuterRef, Subquery

from lapel.records.equipment_history import EquipmentHistory, equipment_history
from lapel.records.models import Delivery, LogEntry, Site

MOST_HELD = 8

_held: OrderedDict[tuple[str, int], tuple[tuple[int, str], EquipmentHistory]] = OrderedDict()
_door = Lock()


def held_history(site: Site) -> EquipmentHistory:
    """Return what the logs of a site tell of its equipment; one query while no entry came in."""
    key = (str(site._state.db), site.pk)
    mark = _mark(site)
    with _door:
        known = _held.get(key)
        if known is None or known[0] != mark:
            known = _held[key] = (mark, equipment_history(site))
        _held.move_to_end(key)
        while len(_held) > MOST_HELD:
            _held.popitem(last=False)
        return known[1]


def _mark(site: Site) -> tuple[int, str]:
    """Return what differs whenever an entry came in: the last receipt, and the hash of the last delivery."""
    last = Delivery.objects.filter(survey__site=OuterRef("survey__site")).order_by("-pk").values("hash")[:1]
    found = LogEntry.objects.filter(survey__site=site).order_by("-receipt").annotate(delivery=Subquery(last))
    row = found.values_list("receipt", "delivery").first()
    return (row[0], row[1] or "") if row else (0, "")
