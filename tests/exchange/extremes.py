"""
Changes that may leave a survey folder readable and its content extreme: ends of ranges, gaps, swaps, odd times.

Each changes one thing and says what it did. Whether the folder can still be read is not its business; whether what is
then computed is right, or refused, is what the tests ask.
"""

import json
import random
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from mutations import COLUMNS, load, save, tables_of

Extreme = Callable[[Path, random.Random], "str | None"]

TINY_AND_HUGE = ("0", "0.0", "1e-12", "1e-300", "0.001", "1", "99999", "1e6", "1e7", "5")


def cells(root: Path, fits: Callable[[str, str, str], bool]) -> list[tuple[str, int, int]]:
    """Cells of our own tables whose file, column and text fit."""
    return [
        (name, number, index)
        for name in tables_of(root)
        if name in COLUMNS
        for rows in [load(root, name)]
        for number, row in enumerate(rows[1:], start=1)
        for index, text in enumerate(row)
        if index < len(rows[0]) and rows[0][index] in COLUMNS[name] and fits(name, rows[0][index], text)
    ]


def put(root: Path, name: str, number: int, index: int, text: str) -> str:
    rows = load(root, name)
    before = rows[number][index]
    rows[number][index] = text
    save(root, name, rows)
    return f"{name} row {number + 1}, {rows[0][index]}: {before!r} -> {text!r}"


def end_of_range(root: Path, dice: random.Random) -> str | None:
    """A number becomes the least, the greatest, nothing or next to nothing."""
    found = cells(root, lambda name, column, text: bool(text) and COLUMNS[name][column].type in NUMBERS)
    if not found:
        return None
    name, number, index = dice.choice(found)
    column = COLUMNS[name][load(root, name)[0][index]]
    ends = [f"{end:g}" for end in (column.low, column.high) if end is not None]
    return put(root, name, number, index, dice.choice([*ends, *TINY_AND_HUGE]))


def empty_cell(root: Path, dice: random.Random) -> str | None:
    """A cell is left empty: no molar mass, no certificate, no reporting limit, no meter's due date."""
    found = cells(
        root, lambda name, column, text: bool(text) and not COLUMNS[name][column].needed and not name.startswith("log/")
    )
    return put(root, *dice.choice(found), "") if found else None


def empty_log_cell(root: Path, dice: random.Random) -> str | None:
    found = cells(root, lambda name, column, text: bool(text) and name.startswith("log/"))
    return put(root, *dice.choice(found), "") if found else None


def another_word(root: Path, dice: random.Random) -> str | None:
    found = cells(root, lambda name, column, text: COLUMNS[name][column].type == "word" or text in ("yes", "no"))
    if not found:
        return None
    name, number, index = dice.choice(found)
    column = COLUMNS[name][load(root, name)[0][index]]
    return put(root, name, number, index, dice.choice(list(column.words) or ["yes", "no"]))


UNITS = {
    "flow": ["mL/min", "L/min", "m3/h"], "temperature": ["°C", "K", "°F"], "pressure": ["kPa", "hPa", "mmHg", "atm"],
    "mass": ["ug", "mg", "g"], "volume": ["L", "mL", "m3"], "time": ["min", "h", "s"],
}  # fmt: skip


def another_unit(root: Path, dice: random.Random) -> str | None:
    """A number in a unit of its own kind that is not the one it was written in."""
    found = cells(root, lambda name, column, text: bool(text) and COLUMNS[name][column].unit_kind in UNITS)
    name, number, index = dice.choice(found)
    column = COLUMNS[name][load(root, name)[0][index]]
    return put(root, name, number, index, dice.choice(UNITS[column.unit_kind]))


def another_code(root: Path, dice: random.Random) -> str | None:
    """A code becomes another of the same column: another shift, port, sampler, meter, method, lot."""
    found = cells(root, lambda name, column, text: bool(text) and COLUMNS[name][column].type in ("code", "codes"))
    name, number, index = dice.choice(found)
    others = sorted({row[index] for row in load(root, name)[1:] if row[index]})
    return put(root, name, number, index, dice.choice(others))


def moved_time(root: Path, dice: random.Random) -> str | None:
    """An instant moves: samplers outside the shift, stop before start, shifts of next to nothing."""
    found = cells(root, lambda name, column, text: bool(text) and COLUMNS[name][column].type in ("date-time", "date"))
    if not found:
        return None
    name, number, index = dice.choice(found)
    text = load(root, name)[number][index]
    if "T" not in text:
        moved = (datetime.fromisoformat(text) + timedelta(days=dice.choice([-400, -1, 1, 30, 400]))).date().isoformat()
        return put(root, name, number, index, moved)
    minutes = dice.choice([-1441, -600, -240, -30, -1, 1, 15, 240, 480, 1440])
    return put(root, name, number, index, (datetime.fromisoformat(text) + timedelta(minutes=minutes)).isoformat())


def lost_log_row(root: Path, dice: random.Random) -> str | None:
    name = dice.choice([name for name in tables_of(root) if name.startswith("log/")])
    rows = load(root, name)
    if len(rows) < 2:
        return None
    lost = rows.pop(dice.randrange(1, len(rows)))
    save(root, name, rows)
    return f"{name}: lost {lost}"


def lost_log_file(root: Path, dice: random.Random) -> str | None:
    name = dice.choice([name for name in tables_of(root) if name.startswith("log/")])
    (root / name).unlink()
    return f"{name}: lost"


def extra_log_row(root: Path, dice: random.Random) -> str | None:
    """An act is written down twice, some minutes apart."""
    name = dice.choice([name for name in tables_of(root) if name.startswith("log/")])
    rows = load(root, name)
    if len(rows) < 2 or "at" not in rows[0]:
        return None
    row = list(dice.choice(rows[1:]))
    at = rows[0].index("at")
    row[at] = (datetime.fromisoformat(row[at]) + timedelta(minutes=dice.choice([-7, 0, 3, 90]))).isoformat()
    if "id" in rows[0]:
        row[rows[0].index("id")] = ""
    save(root, name, [*rows, row])
    return f"{name}: also {row}"


def swapped_samplers(root: Path, dice: random.Random) -> str | None:
    rows = load(root, "log/sampler_fitted.csv")
    index = rows[0].index("sampler")
    first, second = dice.sample(range(1, len(rows)), 2)
    rows[first][index], rows[second][index] = rows[second][index], rows[first][index]
    save(root, "log/sampler_fitted.csv", rows)
    return f"samplers of rows {first + 1} and {second + 1} swapped"


def odd_results(root: Path, dice: random.Random) -> str | None:
    """The laboratory reports nothing, next to nothing, far too much, or below its limit."""
    files = [name for name in tables_of(root) if name.startswith("laboratory/")]
    if not files:
        return None
    name = dice.choice(files)
    rows = load(root, name)
    body = [
        (number, index)
        for number, row in enumerate(rows)
        if number
        for index, text in enumerate(row)
        if text and (text[0].isdigit() or text[0] == "<")
    ]
    number, index = dice.choice(body)
    before = rows[number][index]
    rows[number][index] = dice.choice(["0", "ND", "<5", "<0.0001", "1e6", "9999999", "0.0000001", "", "1"])
    save(root, name, rows)
    return f"{name} row {number + 1}: {before!r} -> {rows[number][index]!r}"


def all_below(root: Path, dice: random.Random) -> str | None:
    """Everything below the reporting limit: all non-detects."""
    files = [name for name in tables_of(root) if name.startswith("laboratory/")]
    if not files:
        return None
    for name in files:
        rows = load(root, name)
        for column in ("Mass", "Front", "Back", "Front mg", "Total", "Amount"):
            for index in [i for i, head in enumerate(rows[0]) if column in head]:
                for row in rows[1:]:
                    if index < len(row) and row[index]:
                        row[index] = "ND"
        save(root, name, rows)
    return "nothing found on anything"


def other_corrector(root: Path, dice: random.Random) -> str | None:
    path = dice.choice(sorted((root / "laboratory").glob("*.toml")))
    text = path.read_text(encoding="utf-8")
    key = dice.choice(["recovery_corrected_by", "blank_corrected_by"])
    lines = [
        f'{key} = "{"nobody" if "laboratory" in line else "laboratory"}"' if line.startswith(key) else line
        for line in text.splitlines()
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return f"{path.name}: {key} the other way"


def other_site(root: Path, dice: random.Random) -> str | None:
    """Another place: no usual air, another zone, words a terminal might take for its own."""
    path = root / "survey.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    what = dice.choice(["air", "zone", "words", "rules"])
    if what == "air":
        lines = [line for line in lines if not line.startswith(("temperature", "pressure"))]
    elif what == "zone":
        zone = dice.choice(["Pacific/Kiritimati", "Pacific/Niue", "Asia/Kathmandu"])
        lines = [f'zone = "{zone}"' if line.startswith("zone") else line for line in lines]
    elif what == "rules":
        book = dice.choice(["niosh", "en-iso", "uk", "house", "practice"])
        lines = [f'rule_book = "{book}"' if line.startswith("rule_book") else line for line in lines]
        lines = [line for line in lines if not line.startswith("compared")]
    else:
        lines = [f"{line.split(' = ')[0]} = {MARKUP}" if line.startswith(("title", "name")) else line for line in lines]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return f"survey.toml: other {what}"


MARKUP = '"Hall [/bold] [red] {x} %s \\\\[3]"'


def odd_limit(root: Path, dice: random.Random) -> str | None:
    """Another limit: next to nothing, huge, without source, of another kind or averaging time."""
    rows = load(root, "limits.csv")
    agents = [row[0] for row in load(root, "agents.csv")[1:]]
    new = dict.fromkeys(rows[0], "")
    new |= {
        "agent": dice.choice(agents),
        "authority": "House",
        "kind": dice.choice(["TWA", "STEL", "ceiling", "action level"]),
        "value": dice.choice(["1e-12", "1e6", "0.5", "100"]),
        "unit": dice.choice(["ppm", "mg/m3"]),
        "averaging_min": dice.choice(["", "1", "15", "240", "480", "600", "1440"]),
    }
    if "extended_shift_model" in new:
        models = ["", "brief-scala-day", "brief-scala-week", "proportional-day", "proportional-week"]
        new["extended_shift_model"] = dice.choice(models)
    save(root, "limits.csv", [*rows, [new[name] for name in rows[0]]])
    return f"limits.csv: also {new}"


def no_limits(root: Path, dice: random.Random) -> str | None:
    rows = load(root, "limits.csv")
    kept = [row for row in rows[1:] if dice.random() < 0.3]
    save(root, "limits.csv", [rows[0], *kept])
    return f"limits.csv: only {len(kept)} left"


def same_name(root: Path, dice: random.Random) -> str | None:
    """Two agents with one name and one effect."""
    rows = load(root, "agents.csv")
    name = rows[0].index("name")
    effects = rows[0].index("effect_groups") if "effect_groups" in rows[0] else None
    for row in rows[1:]:
        row[name] = "Solvent"
        if effects is not None:
            row[effects] = "nervous system"
    save(root, "agents.csv", rows)
    return "agents.csv: all of one name and effect"


def correction_of_a_correction(root: Path, dice: random.Random) -> str | None:
    """Corrections that correct corrections, withdraw each other, or name nothing that is there."""
    name = "log/correction.csv"
    head = load(root, name)[0] if (root / name).exists() else ["at", "corrects", "reason", "field", "value"]
    rows = load(root, name) if (root / name).exists() else [head]
    found = [load(root, other)[0] for other in tables_of(root) if other == "log/flow_read.csv"]
    if not found:
        return None
    reads = load(root, "log/flow_read.csv")
    at = reads[1][reads[0].index("at")]
    day = datetime.fromisoformat(at) + timedelta(days=1)
    read = f"flow_read-row-{dice.randrange(2, len(reads) + 1)}"
    last = f"correction-row-{len(rows) + 1}"
    first = {"corrects": read, "field": "reading", "value": "31.5", "reason": "misread"}
    field = dice.choice(["value", ""])
    second = {"corrects": last, "field": field, "value": "29.5" if field else "", "reason": "again"}
    for minute, row in enumerate([first, second, dict(second, reason="and again")]):
        row["at"] = (day + timedelta(minutes=minute)).isoformat()
        rows.append([str(row.get(column, "")) for column in head])
    (root / name).parent.mkdir(exist_ok=True)
    if not (root / name).exists():
        (root / name).write_text(",".join(head) + "\n", encoding="utf-8")
    save(root, name, rows)
    return f"{name}: {json.dumps([first, second])}"


NUMBERS = ("number", "whole number", "quantity")

EXTREMES: tuple[Extreme, ...] = (
    end_of_range, empty_cell, empty_log_cell, another_word, another_unit, another_code, moved_time, lost_log_row,
    lost_log_file, extra_log_row, swapped_samplers, odd_results, all_below, other_corrector, other_site, odd_limit,
    no_limits, same_name, correction_of_a_correction,
)  # fmt: skip
