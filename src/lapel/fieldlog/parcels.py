"""The fold of all parcels of a log, and what it tells the trains: when each sampler was packed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from lapel.fieldlog.custody import ParcelLog
from lapel.fieldlog.day import in_two_parcels
from lapel.fieldlog.order import Act
from lapel.fieldlog.preparation import Findings
from lapel.fieldlog.raised import Raised


@dataclass(slots=True)
class Parcels:
    """All parcels, folded; `packings` gives the first sealing of each sampler, with its place in the list."""

    logs: dict[str, ParcelLog] = field(default_factory=dict)
    parcel_of: dict[str, str] = field(default_factory=dict)
    packings: dict[str, tuple[Act, int]] = field(default_factory=dict)
    raised: Raised = field(default_factory=Raised)

    def packed_otherwise(self, other: Parcels) -> set[str]:
        """Return the samplers that are packed otherwise in another state of the parcels."""
        mine, theirs = self.packings, other.packings
        return {sampler for sampler in mine.keys() | theirs.keys() if mine.get(sampler) != theirs.get(sampler)}


def fold_parcels(acts: Iterable[Act], distinct: set[frozenset[str]]) -> Parcels:
    """Fold all acts about parcels, in any order; `distinct` are the pairs of entries said to be no repetition."""
    now, findings = Parcels(), Findings(distinct=distinct)
    for act in sorted(acts, key=lambda act: act.key):
        code = act.value("parcel")
        parcel = now.logs.setdefault(code, ParcelLog(code))
        if act.kind == "custody_handed":
            parcel.hand(act)
            continue
        first = parcel.seal(act, findings)
        now.raised.note((act.key, 0), findings)
        for number, sampler in enumerate(parcel.samplers if first else (), start=1):
            if sampler in now.parcel_of:
                other = now.parcel_of[sampler]
                findings.conflicts.append(in_two_parcels(sampler, other, now.logs[other].sealing, parcel))
                now.raised.note((act.key, number), findings)
            else:
                now.parcel_of[sampler] = code
                now.packings[sampler] = (act, number)
    return now
