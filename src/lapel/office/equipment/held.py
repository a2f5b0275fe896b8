"""What the logs of a site tell of its equipment, worked once and held until an entry comes in."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock

from lapel.records.equipment_history import EquipmentHistory, equipment_history
from lapel.records.models import Delivery, Site

MOST_HELD = 8

_held: OrderedDict[tuple[str, int], tuple[str, EquipmentHistory]] = OrderedDict()
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


def _mark(site: Site) -> str:
    """Return what differs whenever an entry came in: the hash of the last delivery, which covers all before it."""
    deliveries = Delivery.objects.filter(survey__site=site).order_by("-pk")
    return deliveries.values_list("hash", flat=True).first() or ""
