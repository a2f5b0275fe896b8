"""Logs nobody would write, made by chance and always the same: office and page must make the same day of them."""

import random
from dataclasses import replace
from datetime import timedelta

from lapel.fieldlog import Entry, chained, instant_in
from lapel.fieldlog.entries import KINDS

TYPED = {
    "train": ["T1", "T1", "T2", " T1 ", "T\t3"],
    "port": ["A", "A", "B", "C", " B", "a", ""],
    "ports": ["", "", "A", "A B", "B,A ;C", "x"],
    "sampler": ["S-1", "S-2", "S-3", " S-1", "S-4"],
    "blank": ["S-3", "B-1", "B-1"],
    "samplers": ["S-1 S-2", "S-2;B-1,S-3", ""],
    "parcel": ["K", "L"],
    "worker": ["W-1", "W-2"],
    "pump": ["P-1", "P-2"],
    "from": ["anna", "BEN", "Straße"],
    "to": ["Ben", "STRASSE", "carla"],
    "meter": ["M-1", "M-2"],
    "phase": ["setting", "closing", "closing", "closing", "check", "post", "post", "before"],
    "reading": ["0.1", "0.102", "1e-1", ".1", "0,1", "-1", "+5.", "0.10 "],
    "unit": ["L/min", "mL/min", "ml / min", "gal"],
    "valve_touched": ["no", "no", "no", "yes", "perhaps"],
    "recharged": ["no", "yes"],
    "battery_changed": ["", "no"],
    "same_tubes": ["yes", "no", "yes"],
    "running": ["yes", "yes", "no"],
    "passed": ["yes", "no"],
    "why": ["shift end", "fault", "early", "other", "break", "tube change"],
    "stopped_itself": ["", "", "yes", "no"],
    "counter_min": ["", "0", "10", "12.5", "30", "55", "-3"],
    "warm_up_min": ["", "5", "10"],
    "charged_at": ["", "2026-05-14T04:00+02:00", "2026-05-14 02:00Z", "yesterday"],
    "until": ["", "2026-05-14T09:00:00.5+02:00"],
    "expiry": ["", "2027-08-31", "2027-02-30"],
    "task": ["mixing", "mixing", "filling"],
    "text": ['µ “wind” \\ "x"\n\t€ 𝛼', "it's", "a\u2028b\x7f"],
    "file": ["a.jpg"],
    "sha256": ["", "0" * 64, "zz"],
    "tube": ["c1", "c2"],
    "medium": ["", "CT-100", "CT-100", "silica 300"],
    "lot": ["", "L1", "L1", "L2"],
    "catalogue": ["", "N-1"],
    "intended": ["", "30"],
    "intended_unit": ["mL/min", "", "gal"],
    "supplier": ["", "29.6", "0"],
    "supplier_unit": ["mL/min", ""],
    "how": ["", "scanned", "typed"],
    "place": ["hall ½", ""],
}


def random_log(seed: int, size: int = 60) -> list[Entry]:
    """Entries on two trains by two phones and a sheet, some odd, some corrected, some twice with two contents."""
    chance = random.Random(seed)
    kinds = [kind for kind in KINDS if kind != "correction"]
    weights = [6 if KINDS[kind].fields.get("train") else 1 for kind in kinds]
    made: list[Entry] = []
    at = instant_in("2026-05-14T06:00+02:00") + timedelta(microseconds=chance.choice([0, 0, 120, 5000]))
    wanted = [(kind, _fields(chance, kind)) for kind in chance.choices(kinds, weights, k=size)]
    for _ in range(chance.randrange(3)):
        place = chance.randrange(len(wanted))
        wanted[place:place] = [act for act in _proper_run(chance) if chance.random() > 0.04]
    for number, (kind, fields) in enumerate(wanted):
        at += timedelta(minutes=chance.choice([0, 0, 0, 1, 2, 7, 40]), milliseconds=chance.choice([0, 0, 137]))
        made.append(_entry(chance, f"e{number:03}", kind, at, fields, number + 1))
    for number in range(chance.randrange(8)):
        target = chance.choice([*(one.id for one in made), "c0", "c1", "nowhere"])
        said = chance.choice(
            [
                {"withdraw": "yes"},
                {"distinct_from": chance.choice(made).id},
                {"field": "at", "value": "2026-05-14T06:31:00.250+02:00"},
                {"field": "port", "value": chance.choice(["A", "B", ""])},
                {"field": "reading", "value": "0.11"},
                {"field": "no such"},
                {"withdraw": "no"},
            ]
        )
        late = at + timedelta(minutes=chance.randrange(5))
        made.append(_entry(chance, f"c{number}", "correction", late, said, len(wanted) + number, target))
    made += [_changed(chance, one) for one in chance.sample(made, 3)]
    chance.shuffle(made)
    return made + chance.choices(made, k=5)


def _proper_run(chance: random.Random) -> list[tuple[str, dict[str, str]]]:
    """Two ports of a train as the trade does it, from preparing to the round after the run."""
    train, sampler = {"train": chance.choice(["T1", "T2"])}, chance.choice(["S-1", "S-2", "S-5"])
    reading = {**train, "meter": "M-1", "unit": "mL/min"}
    before, after = (
        [("flow_read", {**reading, "port": port, "phase": phase, "reading": str(chance.randrange(95, 106))})
         for port in "AB" for _ in range(2)] for phase in ("closing", "post")
    )  # fmt: skip
    return [
        ("train_prepared", {**train, "pump": "P-1", "splitter": "H-1", "warm_up_min": "10"}),
        *before,
        ("closing_round", {**train, "ports": "A B", "valve_touched": "no"}),
        ("train_hung", {**train, "worker": "W-1"}),
        ("sampler_fitted", {**train, "port": "A", "sampler": sampler}),
        ("sampler_fitted", {**train, "port": "B", "sampler": f"{sampler}b"}),
        ("pump_started", {**train, "counter_min": "0"}),
        ("pump_checked", {**train, "running": "yes", "counter_min": "9"}),
        ("pump_held", {**train, "ports": chance.choice(["", "A"]), "why": "break"}),
        ("pump_resumed", train),
        ("pump_stopped", {**train, "why": "shift end", "counter_min": "60"}),
        *after,
        ("post_round", {**train, "valve_touched": "no", "recharged": "no", "same_tubes": "yes"}),
        ("sampler_removed", {**train, "port": "A", "sampler": sampler, "why": "done"}),
    ]


def _fields(chance: random.Random, kind: str) -> dict[str, str]:
    fields = {}
    for name, spec in KINDS[kind].fields.items():
        if spec.needed or chance.random() < 0.6 or name in ("reading", "unit"):
            value = chance.choice(TYPED.get(name, [""]))
            if value or chance.random() < 0.3:
                fields[name] = value
    if chance.random() < 0.02:
        fields["1st"] = "no such field"
    return fields


def _entry(chance, entry_id, kind, at, fields, sequence, corrects=None) -> Entry:
    device = chance.choice(["phone-1", "phone-1", "phone-2", "sheet"])
    lag = chance.choice([None, timedelta(minutes=3), timedelta(seconds=-30), timedelta(hours=-2)])
    return Entry(
        id=entry_id,
        kind=kind if chance.random() > 0.01 else "no kind",
        at=at,
        device=device,
        sequence=0 if device == "sheet" else sequence if chance.random() > 0.02 else 7,
        author=chance.choice(["RK", "RK", "Jo"]),
        fields=fields,
        corrects=corrects,
        reason=chance.choice(["misread", "misread", ""]) if corrects else "",
        received_at=None if lag is None or device == "sheet" else at + lag,
    )


def _changed(chance: random.Random, entry: Entry) -> Entry:
    received = entry.received_at + timedelta(seconds=1) if entry.received_at else entry.at
    (linked,) = chained([entry])
    return chance.choice(
        [replace(linked, received_at=received), replace(entry, author="another"), replace(linked, received_at=None)]
    )
