"""
One act recorded by two people: both entries stay, the first in order counts, and the pair waits to be settled.

Starts, stops, holds and fittings betray a repetition by what was already the case; `TrainState` finds those. The kinds
here can be repeated without contradiction, so a repetition is seen only by likeness: same kind, same subject, another
device, within some minutes. Saying that two entries are distinct, or withdrawing one, settles it.
"""

from __future__ import annotations

from collections.abc import Iterable

from lapel.fieldlog.order import Act
from lapel.fieldlog.state import Conflict
from lapel.said import listed, said

SAME_ACT: dict[str, tuple[tuple[str, ...], float]] = {
    "port_prepared": (("train", "port", "tube"), 10.0),
    "leak_checked": (("train", "port", "passed"), 10.0),
    "flow_read": (
        ("train", "port", "phase", "meter", "reading", "unit", "volume", "volume_unit", "seconds"),
        2.0,
    ),
    "pump_checked": (("train", "running", "counter_min"), 5.0),
    "valve_touched": (("train", "port"), 2.0),
    "train_hung": (("train", "worker"), 10.0),
    "task": (("worker", "task"), 10.0),
    "custody_handed": (("parcel", "from", "to"), 30.0),
}
"""Of each kind: the fields that make two entries alike, and the minutes within which likeness means the same act."""


def without_repetitions(acts: Iterable[Act], distinct: set[frozenset[str]]) -> tuple[list[Act], list[Conflict]]:
    """
    Set aside acts that another device recorded just before.

    Parameters
    ----------
    acts : iterable of Act
        In order.
    distinct : set of frozenset of str
        Pairs of ids somebody said are two acts.

    Returns
    -------
    tuple of (list of Act, list of Conflict)
        What is left, in order, and one conflict for each act with its repetitions.
    """
    left, groups = repetitions(acts, distinct)
    return left, [recorded_twice(group) for group in groups]


def repetitions(acts: Iterable[Act], distinct: set[frozenset[str]]) -> tuple[list[Act], list[list[Act]]]:
    """
    Set aside acts that another device recorded just before.

    Returns
    -------
    tuple of (list of Act, list of list of Act)
        What is left, in order, and each act that was repeated with its repetitions, in the order of the first of them.
    """
    left: list[Act] = []
    first_of: dict[tuple[str, ...], Act] = {}
    repeated: dict[str, list[Act]] = {}
    for act in acts:
        rule = SAME_ACT.get(act.kind)
        if rule is None:
            left.append(act)
            continue
        names, window_min = rule
        typed = act.fields.get
        likeness = (act.kind, *[typed(name, "").strip() for name in names])
        first = first_of.get(likeness)
        if (
            first is not None
            and first.device != act.device
            and (act.at - first.at).total_seconds() <= 60.0 * window_min
            and not (distinct and frozenset((first.id, act.id)) in distinct)
        ):
            repeated.setdefault(first.id, [first]).append(act)
        else:
            first_of[likeness] = act
            left.append(act)
    return left, list(repeated.values())


def recorded_twice(acts: list[Act], samplers: tuple[str, ...] = ()) -> Conflict:
    """Word the conflict of one act recorded on several devices."""
    first = acts[0]
    named = samplers or tuple(filter(None, (first.value("sampler"),)))
    subject = " ".join(filter(None, (first.value("train"), first.value("port"))))
    kind: str = said(first.kind)
    if subject:
        kind = listed(" ", (kind, subject))
    both: str = f"{first.id} ({first.author}, {first.device})"
    for act in acts[1:]:
        both = said("{first} and {last}", first=both, last=f"{act.id} ({act.author}, {act.device})")
    return Conflict(
        about="recorded twice",
        entry_ids=tuple(act.id for act in acts),
        words=said(
            "{kind}: {acts} look like one act. The first counts. Withdraw one, or say that they are two acts.",
            kind=kind,
            acts=both,
        ),
        train=first.value("train"),
        port=first.value("port"),
        samplers=named,
    )
