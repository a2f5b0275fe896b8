"""
Ways a survey folder gets damaged between a desk and a reader, each with what must then be true.

A mutation changes one file of a folder and says what it expects: "same" (the survey reads as before), "fault" (it is
refused, and the file is named), "fault or less" (refused, or read without the part that is gone, nothing else changed).
It returns None where a file offers nothing to change in this way.
"""

import csv
import io
import json
import random
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from lapel.exchange.survey_folder.columns import Column
from lapel.exchange.survey_folder.layout import TABLES
from lapel.exchange.survey_folder.log_layout import log_tables

COLUMNS: dict[str, dict[str, Column]] = {
    table.file: {column.name: column for column in table.columns} for table in (*TABLES, *log_tables().values())
}
KEYS = {table.file: table.key for table in TABLES if table.key}
NEEDED = {table.file for table in TABLES if table.needed} | {"survey.toml"}


@dataclass(frozen=True)
class Damage:
    """What was done to which file, and what must follow."""

    file: str
    words: str
    expect: str


Mutation = Callable[[Path, random.Random], "Damage | None"]


def tables_of(root: Path) -> list[str]:
    return sorted(str(path.relative_to(root)) for path in root.rglob("*.csv"))


def delimiter_of(root: Path, name: str) -> str:
    return ";" if ";" in (root / name).read_text(encoding="utf-8").split("\n")[0] else ","


def load(root: Path, name: str) -> list[list[str]]:
    text = (root / name).read_text(encoding="utf-8")
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter_of(root, name)))


def save(root: Path, name: str, rows: list[list[str]], **options: object) -> None:
    delimiter = delimiter_of(root, name)
    with (root / name).open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, delimiter=delimiter, **{"lineterminator": "\n", **options}).writerows(rows)


def a_cell(root: Path, dice: random.Random, fits: Callable[[Column, str], bool]) -> tuple[str, int, int] | None:
    """Pick a filled cell of our own tables whose column and text fit."""
    found = [
        (name, number, index)
        for name in tables_of(root)
        if name in COLUMNS
        for rows in [load(root, name)]
        for number, row in enumerate(rows[1:], start=1)
        for index, text in enumerate(row)
        if text and rows[0][index] in COLUMNS[name] and fits(COLUMNS[name][rows[0][index]], text)
    ]
    return dice.choice(found) if found else None


def set_cell(
    root: Path, dice: random.Random, fits: Callable[[Column, str], bool], change: Callable[[str], str], words: str
) -> Damage | None:
    place = a_cell(root, dice, fits)
    if place is None:
        return None
    name, number, index = place
    rows = load(root, name)
    before = rows[number][index]
    rows[number][index] = change(before)
    column = rows[0][index]
    save(root, name, rows)
    return Damage(name, f"{words}: {column} {before!r} -> {rows[number][index]!r}", "fault")


def is_number(column: Column, text: str) -> bool:
    return column.type in ("number", "whole number", "quantity")


def decimal_comma(root: Path, dice: random.Random) -> Damage | None:
    return set_cell(
        root,
        dice,
        lambda column, text: is_number(column, text) and "." in text,
        lambda text: text.replace(".", ","),
        "decimal comma",
    )


def decimal_comma_unquoted(root: Path, dice: random.Random) -> Damage | None:
    damage = decimal_comma(root, dice)
    if damage is not None:
        path = root / damage.file
        path.write_text(path.read_text(encoding="utf-8").replace('"', ""), encoding="utf-8")
    return damage


def no_number(root: Path, dice: random.Random) -> Damage | None:
    word = dice.choice(
        ["NaN", "nan", "inf", "-inf", "1e999", "9" * 400, "-500", "1e9", "#REF!", "0x10", "1_000", "two"]
    )
    return set_cell(root, dice, is_number, lambda _: word, "no plausible number")


def wrong_unit(root: Path, dice: random.Random) -> Damage | None:
    word = dice.choice(["furlong", "kg", "ppm", "mg/m3", "mL", "m/s", "psi?", "h"])
    return set_cell(
        root,
        dice,
        lambda column, text: column.type == "unit" and not (column.unit_kind == "volume" and word == "mL"),
        lambda _: word,
        "wrong unit",
    )


def lost_unit(root: Path, dice: random.Random) -> Damage | None:
    return set_cell(root, dice, lambda column, text: column.type == "unit", lambda _: "", "lost unit")


def impossible_time(root: Path, dice: random.Random) -> Damage | None:
    words = ["2026-02-30T08:00", "2026-10-29T25:61", "29.10.2026 08:00", "10/29/2026 8:00", "0001-01-01T00:00"]
    words += ["9999-12-31T23:59", "2062-10-29T08:00", "2016-10-29T08:00", "08:00", "20261029T0800", "2026-10-29"]
    words += ["2026-10-29T08:00+09:00", "2026-10-29T08:00-99:00", "2026-03-08T02:30", "1e5", "46324.25"]
    word = dice.choice(words)
    return set_cell(
        root,
        dice,
        lambda column, text: column.type == "date-time" and column.name in ("at", "start", "end"),
        lambda _: word,
        "impossible time",
    )


def impossible_date(root: Path, dice: random.Random) -> Damage | None:
    word = dice.choice(["2026-02-30", "29.10.2026", "10/29/26", "1899-12-30", "2999-01-01", "soon", "46324"])
    return set_cell(root, dice, lambda column, text: column.type == "date", lambda _: word, "impossible date")


def dangling_code(root: Path, dice: random.Random) -> Damage | None:
    return set_cell(
        root,
        dice,
        lambda column, text: bool(column.refers) and column.type == "code",
        lambda text: text + "-x",
        "code that stands nowhere",
    )


def wrong_word(root: Path, dice: random.Random) -> Damage | None:
    return set_cell(
        root,
        dice,
        lambda column, text: column.type in ("word", "yes or no"),
        lambda text: dice.choice([text.swapcase(), text + "?", "maybe", text[:-1]]),
        "word that is none of the words",
    )


def repeated_row(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice([name for name in tables_of(root) if name in KEYS or name.startswith("laboratory/")])
    rows = load(root, name)
    rows.append(dice.choice(rows[1:]))
    save(root, name, rows)
    ours = name in KEYS or not (rows[-1][0].startswith("Control") or "Acetaldehyde" in rows[-1])
    return Damage(name, f"repeated row {rows[-1]}", "fault" if ours else "same")


def repeated_id(root: Path, dice: random.Random) -> Damage | None:
    """Two rows of one log table under one id: as typed on another row, or as another row is called without one."""
    name = dice.choice([name for name in tables_of(root) if name.startswith("log/")])
    rows = load(root, name)
    if len(rows) < 3:
        return None
    if "id" not in rows[0]:
        rows = [[*row, "id" if number == 0 else ""] for number, row in enumerate(rows)]
    index = rows[0].index("id")
    first, second = dice.sample(range(1, len(rows)), 2)
    if not rows[first][index] and dice.random() < 0.5:
        rows[first][index] = "sheet-1-line-1"
    rows[second][index] = rows[first][index] or f"{Path(name).stem}-row-{first + 1}"
    save(root, name, rows)
    return Damage(name, f"rows {first + 1} and {second + 1} of one id {rows[second][index]}", "fault")


def misspelt_column(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    rows = load(root, name)
    index = dice.randrange(len(rows[0]))
    rows[0][index] += "x"
    save(root, name, rows)
    return Damage(name, f"misspelt column {rows[0][index]}", "fault")


def repeated_column(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    rows = load(root, name)
    index = dice.randrange(len(rows[0]))
    save(root, name, [[*row, row[index]] for row in rows])
    return Damage(name, f"column {rows[0][index]} twice", "fault" if name in COLUMNS else "fault or same")


def shuffled_columns(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    rows = load(root, name)
    order = list(range(len(rows[0])))
    dice.shuffle(order)
    save(root, name, [[row[index] for index in order] for row in rows])
    return Damage(name, f"columns in the order {order}", "same")


def other_line_ends(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    save(root, name, load(root, name), lineterminator="\r\n")
    return Damage(name, "line ends of another system", "same")


def all_quoted(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    save(root, name, load(root, name), quoting=csv.QUOTE_ALL)
    return Damage(name, "every cell quoted", "same")


def byte_order_mark(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    (root / name).write_bytes(b"\xef\xbb\xbf" + (root / name).read_bytes())
    return Damage(name, "a byte order mark", "same")


def blank_rows(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    rows = load(root, name)
    save(root, name, [*rows, [""] * len(rows[0]), []])
    return Damage(name, "blank rows at the end", "same")


def other_encoding(root: Path, dice: random.Random) -> Damage | None:
    path = dice.choice([path for path in sorted(root.rglob("*")) if path.suffix in (".csv", ".toml", ".jsonl")])
    encoding = dice.choice(["utf-16", "utf-16-le", "utf-32", "latin-1", "cp437"])
    text = path.read_text(encoding="utf-8")
    try:
        changed = text.encode(encoding)
    except UnicodeEncodeError:
        return None
    name = str(path.relative_to(root))
    same = changed == text.encode()
    path.write_bytes(changed)
    return Damage(name, f"written as {encoding}", "same" if same else "fault")


def garbage(root: Path, dice: random.Random) -> Damage | None:
    path = dice.choice([path for path in sorted(root.rglob("*")) if path.is_file() and path.suffix != ".md"])
    content = bytearray(path.read_bytes())
    at = dice.randrange(len(content) + 1)
    strange = dice.choice([b"\x00", b"\xff\xfe\xfd", b"\x81\x8d", b"\x1b[0m", bytes([dice.randrange(128, 192)]) * 3])
    content[at:at] = strange
    path.write_bytes(bytes(content))
    # a workbook is a packed file: what lies between its parts may not matter
    expect = "fault or same" if path.suffix == ".xlsx" else "fault"
    return Damage(str(path.relative_to(root)), f"{strange!r} at byte {at}", expect)


def replaced_by_noise(root: Path, dice: random.Random) -> Damage | None:
    path = dice.choice([path for path in sorted(root.rglob("*")) if path.is_file() and path.suffix != ".md"])
    path.write_bytes(dice.randbytes(dice.choice([0, 1, 40, 3000])))
    return Damage(str(path.relative_to(root)), "replaced by noise", "fault")


def cut_off(root: Path, dice: random.Random) -> Damage | None:
    path = dice.choice([path for path in sorted(root.rglob("*")) if path.is_file() and path.suffix != ".md"])
    content = path.read_bytes()
    length = dice.randrange(len(content))
    path.write_bytes(content[:length])
    whole_rows = content[:length].endswith(b"\n")
    return Damage(
        str(path.relative_to(root)), f"cut off after {length} bytes", "fault or less" if whole_rows else "fault"
    )


def lost_file(root: Path, dice: random.Random) -> Damage | None:
    path = dice.choice([path for path in sorted(root.rglob("*")) if path.is_file() and path.suffix != ".md"])
    path.unlink()
    name = str(path.relative_to(root))
    needed = name in NEEDED or (name.startswith("laboratory/") and not name.endswith(".toml"))
    return Damage(name, "lost", "fault" if needed else "fault or less")


def lost_row(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    rows = load(root, name)
    if len(rows) < 2:
        return None
    del rows[dice.randrange(1, len(rows))]
    save(root, name, rows)
    return Damage(name, "a row lost", "fault or less")


def short_row(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice([name for name in tables_of(root) if name in COLUMNS])
    rows = load(root, name)
    if len(rows) < 2 or len(rows[0]) < 2:
        return None
    del rows[dice.randrange(1, len(rows))][-1]
    save(root, name, rows)
    return Damage(name, "a cell lost", "fault")


def stray_file(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(["wokers.csv", "log/flow_reads.csv", "equipment/meter.csv", "laboratory/more.csv", "site.toml"])
    (root / name).write_text("a,b\n1,2\n", encoding="utf-8")
    return Damage(name, "a file that is no part", "fault")


def folder_for_a_file(root: Path, dice: random.Random) -> Damage | None:
    name = dice.choice(tables_of(root))
    (root / name).unlink()
    (root / name).mkdir()
    return Damage(name, "a folder in the place of a file", "fault")


def altered_device_entry(root: Path, dice: random.Random) -> Damage | None:
    found = sorted(root.rglob("*.jsonl"))
    if not found:
        return None
    path = dice.choice(found)
    lines = path.read_text(encoding="utf-8").splitlines()
    number = dice.randrange(len(lines) - 1)
    entry = json.loads(lines[number])
    what = dice.choice(["reading", "at", "lost", "twice", "order", "author", "type"])
    if what == "lost":
        del lines[number]
    elif what == "twice":
        lines.insert(number, lines[number])
    elif what == "type":
        lines[number] = dice.choice(["[]", "1", "null", '{"id": 3}', "{", '{"kind": []}', '"' + "x" * 100])
    else:
        if what == "at":
            entry["at"] = entry["at"].replace("T2", "T1").replace("T0", "T1")
        elif what == "author":
            entry["author"] += "X"
        elif what == "order":
            entry["sequence"] += 1000
        else:
            entry["fields"] = {name: text + "1" for name, text in entry["fields"].items()}
        lines[number] = json.dumps(entry)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return Damage(str(path.relative_to(root)), f"a device's entry {number + 1}: {what}", "fault")


MUTATIONS: tuple[Mutation, ...] = (
    decimal_comma, decimal_comma_unquoted, no_number, wrong_unit, lost_unit, impossible_time, impossible_date,
    dangling_code, wrong_word, repeated_row, repeated_id, misspelt_column, repeated_column, shuffled_columns,
    other_line_ends, all_quoted, byte_order_mark, blank_rows, other_encoding, garbage, replaced_by_noise, cut_off,
    lost_file, lost_row, short_row, stray_file, folder_for_a_file, altered_device_entry,
)  # fmt: skip
