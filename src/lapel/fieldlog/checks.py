"""Whether one entry can be read as its kind: every fault at once, with the field, what was found and what is wanted."""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from lapel.fieldlog.entries import KINDS, UNITS, Entry, FieldSpec, KindSpec
from lapel.fieldlog.signatures import signature_in
from lapel.said import Said, listed, said

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?", re.ASCII)
_PORT = re.compile(r"[A-Z]")
_SEPARATORS = re.compile(r"[\s,;]+")
_SHA256 = re.compile(r"[0-9a-f]{64}")
NOTHING = said("nothing")
SIGNED = frozenset(name for kind in KINDS.values() for name, field in kind.fields.items() if field.type == "signature")
"""Fields nobody corrects: they stand for a person's hand."""
_SPELLED_UNITS = {kind: frozenset(unit.lower() for unit in units) for kind, units in UNITS.items()}


@dataclass(frozen=True, slots=True)
class EntryProblem:
    """One fault of one entry: the field ("kind", "at", "corrects" and the like too), what was found, what is wanted."""

    field: str
    found: str
    wanted: str

    def __str__(self) -> str:
        return self.words

    @property
    def words(self) -> Said:
        """Say it in one line."""
        return said(
            "{field}: found {found}; wanted {wanted}", field=said(self.field), found=self.found, wanted=self.wanted
        )


def check_entry(entry: Entry) -> list[EntryProblem]:
    """
    Hold an entry against its kind.

    Parameters
    ----------
    entry : Entry
        Any entry; empty values count as not filled.

    Returns
    -------
    list of EntryProblem
        Every fault, in the order of the kind's fields; empty when the entry can be used. A field the kind does not have
        is a fault too: what was typed there would otherwise be lost without a word.
    """
    problems = list(_of_the_envelope(entry))
    spec = KINDS.get(entry.kind)
    if spec is None:
        problems.append(EntryProblem("kind", _quoted(entry.kind), _one_of(KINDS)))
        return problems
    typed: Mapping[str, object] = entry.fields  # what a program hands over need not be text
    filled = {name: value for name, value in typed.items() if not isinstance(value, str) or value.strip()}
    for name in filled:
        if name not in spec.fields:
            wanted = said("a field of {kind}: {names}", kind=said(entry.kind), names=_names(spec))
            problems.append(EntryProblem(name, _quoted(filled[name]), wanted))
    for name, field in spec.fields.items():
        value = filled.get(name)
        if value is None:
            if field.needed:
                problems.append(EntryProblem(name, NOTHING, said(field.words)))
        elif not isinstance(value, str):
            problems.append(EntryProblem(name, repr(value), said("text, as typed")))
        elif misses := _CHECKS[field.type](field, value.strip()):
            problems.append(EntryProblem(name, _quoted(value), misses))
    problems.extend(_of_fields_together(spec, filled))
    if entry.kind == "correction":
        problems.extend(_of_a_correction(entry, filled))
    return problems


def is_usable(entry: Entry) -> bool:
    """
    Whether `check_entry` finds nothing; for many entries, of which nearly all are right.

    Only what is filled is looked at. Where anything is unusual, `check_entry` decides.
    """
    plan = _PLANS.get(entry.kind)
    if plan is None or entry.corrects or entry.sequence < 0 or not (entry.id and entry.device and entry.author):
        return not check_entry(entry)
    if entry.at.utcoffset() is None or not _is_plainly_right(plan, entry.fields):
        return not check_entry(entry)
    return True


def is_number(text: str) -> bool:
    """Whether a text is a plain decimal number with a point."""
    return _NUMBER.fullmatch(text.strip()) is not None


def number_in(text: str) -> float | None:
    """Return the number typed, or `None` where nothing was."""
    return float(text) if text else None


def yes_or_no(text: str) -> bool | None:
    """Return the answer typed, or `None` where nothing was."""
    return {"yes": True, "no": False}.get(text)


def ports_in(text: str) -> tuple[str, ...]:
    """Return the port letters of “A B C” (or “A, B; C”), each once, in alphabetical order."""
    return tuple(sorted(set(_SEPARATORS.split(text.strip())) - {""}))


def codes_in(text: str) -> tuple[str, ...]:
    """Return the codes of a list parted by spaces, commas or semicolons, each once, in the order given."""
    return tuple(dict.fromkeys(code for code in _SEPARATORS.split(text.strip()) if code))


def instant_in(text: str) -> datetime:
    """
    Read an instant with its offset, as in 2026-03-29T05:10+02:00.

    Raises
    ------
    ValueError
        It is no ISO 8601 date and time, or says nothing of its offset from UTC: nothing is guessed.
    """
    instant = datetime.fromisoformat(text.strip())
    if instant.tzinfo is None:
        raise ValueError(f"found “{text.strip()}” without an offset; wanted one, as in 2026-03-29T05:10+02:00")
    return instant


def _of_the_envelope(entry: Entry) -> Iterator[EntryProblem]:
    if not entry.id:
        yield EntryProblem("id", NOTHING, said("an id of its own"))
    if not entry.device:
        yield EntryProblem("device", NOTHING, said("the device or the paper sheet it was recorded on"))
    if not entry.author:
        yield EntryProblem("author", NOTHING, said("who recorded it"))
    if entry.sequence < 0:
        yield EntryProblem("sequence", str(entry.sequence), said("the device's count from 1, or 0 for paper"))
    if entry.at.utcoffset() is None:
        wanted = said("an instant with its offset, as in 2026-03-29T05:10+02:00")
        yield EntryProblem("at", entry.at.isoformat(), wanted)
    if entry.kind == "correction":
        if not entry.corrects:
            yield EntryProblem("corrects", NOTHING, said("the id of the entry it corrects"))
        elif entry.corrects == entry.id:
            yield EntryProblem("corrects", said("its own id"), said("the id of another entry"))
        if not entry.reason.strip():
            yield EntryProblem("reason", NOTHING, said("why it is corrected"))
    elif entry.corrects:
        yield EntryProblem("corrects", _quoted(entry.corrects), said("nothing: only a correction corrects"))


def _of_fields_together(spec: KindSpec, filled: Mapping[str, object]) -> Iterator[EntryProblem]:
    for name, field in spec.fields.items():
        if field.unit_in and name in filled and field.unit_in not in filled:
            units = _units(spec.fields[field.unit_in])
            yield EntryProblem(
                field.unit_in, NOTHING, said("the unit of {field}: {units}", field=said(name), units=units)
            )
        if (
            field.type == "unit"
            and name in filled
            and not any(f.unit_in == name and n in filled for n, f in spec.fields.items())
        ):
            numbers = " or ".join(n for n, f in spec.fields.items() if f.unit_in == name)
            wanted = said("a number in {unit}, or no unit", unit=f"“{filled[name]}”")
            yield EntryProblem(numbers, NOTHING, wanted)
    if spec.one_of and not any(all(name in filled for name in group) for group in spec.one_of):
        yield EntryProblem(spec.one_of[0][0], NOTHING, _any_group(spec.one_of))


def _of_a_correction(entry: Entry, filled: Mapping[str, object]) -> Iterator[EntryProblem]:
    if filled.get("withdraw") == "no":
        yield EntryProblem("withdraw", "“no”", said("“yes”, or nothing"))
    purposes = [name for name in ("field", "withdraw", "distinct_from") if name in filled]
    if len(purposes) > 1:
        wanted = said("one purpose a correction; it has {field} too", field=said(purposes[0]))
        yield EntryProblem(purposes[1], _quoted(filled[purposes[1]]), wanted)
    if "value" in filled and "field" not in filled:
        yield EntryProblem("field", NOTHING, said("the name of the field the value is for"))
    if filled.get("field") in SIGNED:
        wanted = said("another field: withdraw the hand-over and sign a new one")
        yield EntryProblem("field", _quoted(filled["field"]), wanted)
    if filled.get("distinct_from") == entry.corrects and entry.corrects:
        yield EntryProblem("distinct_from", _quoted(entry.corrects), said("the id of the other entry"))


def _number_wanted(field: FieldSpec, value: str) -> str:
    if not is_number(value):
        if "," in value:
            return said("a number with a decimal point; a comma could mean decimals or thousands")
        return said("a number with a decimal point, as in 0.25")
    number = float(value)
    if not math.isfinite(number):
        return said("a finite number")
    if field.above is not None and not number > field.above:
        return said("a number above {number}", number=f"{field.above:g}")
    if field.least is not None and number < field.least:
        return said("a number of {number} or more", number=f"{field.least:g}")
    if field.most is not None and number > field.most:
        return said("a number of {number} or less", number=f"{field.most:g}")
    return ""


def _text_wanted(field: FieldSpec, value: str) -> str:
    return ""


def _code_wanted(field: FieldSpec, value: str) -> str:
    return "" if value.isprintable() else said("a code of printable characters")


def _codes_wanted(field: FieldSpec, value: str) -> str:
    return "" if codes_in(value) and value.isprintable() else said("codes parted by spaces, as in “S-1 S-2”")


def _unit_wanted(field: FieldSpec, value: str) -> str:
    kind = field.unit_kind or ""
    if value.replace(" ", "").lower() in _SPELLED_UNITS[kind]:
        return ""
    return said("a unit of {kind}: {units}", kind=said(kind), units=_units(field))


def _yes_no_wanted(field: FieldSpec, value: str) -> str:
    return "" if value in ("yes", "no") else said("“yes” or “no”")


def _choice_wanted(field: FieldSpec, value: str) -> str:
    return "" if value in field.choices else _one_of(field.choices)


def _port_wanted(field: FieldSpec, value: str) -> str:
    return "" if _PORT.fullmatch(value) else said("one port letter, as in A")


def _ports_wanted(field: FieldSpec, value: str) -> str:
    ports = ports_in(value)
    return "" if ports and all(map(_PORT.fullmatch, ports)) else said("port letters parted by spaces, as in “A C”")


def _instant_wanted(field: FieldSpec, value: str) -> str:
    try:
        instant_in(value)
    except ValueError:
        return said("a date and time with its offset, as in 2026-03-29T05:10+02:00")
    return ""


def _date_wanted(field: FieldSpec, value: str) -> str:
    try:
        if date.fromisoformat(value).isoformat() == value:
            return ""
    except ValueError:
        pass
    return said("a date, as in 2027-08-31")


def _sha256_wanted(field: FieldSpec, value: str) -> str:
    return "" if _SHA256.fullmatch(value) else said("64 digits 0-9 a-f")


def _signature_wanted(field: FieldSpec, value: str) -> str:
    try:
        signature_in(value)
    except ValueError as wanted:
        words: str = wanted.args[0]  # with its template
        return words
    return ""


_CHECKS: dict[str, Callable[[FieldSpec, str], str]] = {
    "text": _text_wanted,
    "code": _code_wanted,
    "codes": _codes_wanted,
    "number": _number_wanted,
    "unit": _unit_wanted,
    "yes/no": _yes_no_wanted,
    "choice": _choice_wanted,
    "port": _port_wanted,
    "ports": _ports_wanted,
    "instant": _instant_wanted,
    "date": _date_wanted,
    "sha256": _sha256_wanted,
    "signature": _signature_wanted,
}


@dataclass(frozen=True, slots=True)
class _Plan:
    """What has to be looked at in an entry of one kind; `shapes` keeps the answer for each set of filled fields."""

    checks: Mapping[str, Callable[[str], bool]]
    needed: frozenset[str]
    pairs: tuple[tuple[str, str], ...]
    one_of: tuple[frozenset[str], ...]
    shapes: dict[tuple[str, ...], tuple[Callable[[str], bool], ...] | None]


_MOST_SHAPES = 500
"""Sets of filled fields of a kind that are kept; nobody writes so many, but somebody may send them."""


def _plan(spec: KindSpec) -> _Plan:
    fields = spec.fields
    return _Plan(
        checks={name: _right_values(field) for name, field in fields.items()},
        needed=frozenset(name for name, field in fields.items() if field.needed),
        pairs=tuple((name, field.unit_in) for name, field in fields.items() if field.unit_in),
        one_of=tuple(map(frozenset, spec.one_of)),
        shapes={},
    )


def _right_values(field: FieldSpec) -> Callable[[str], bool]:
    """Return the check of one field; of values a log repeats, the answers are kept."""
    if field.type in ("text", "code"):
        printable = field.type == "code"
        return lambda value: not value.isspace() and (not printable or value.isprintable())
    check = _CHECKS[field.type]
    return functools.lru_cache(maxsize=1024)(lambda value: not value.isspace() and not check(field, value))


_PLANS = {kind: _plan(spec) for kind, spec in KINDS.items() if kind != "correction"}


def _is_plainly_right(plan: _Plan, typed: Mapping[str, str]) -> bool:
    fields = typed if all(typed.values()) else {name: value for name, value in typed.items() if value}
    names = tuple(fields)
    if names not in plan.shapes:
        if len(plan.shapes) >= _MOST_SHAPES:
            plan.shapes.clear()
        plan.shapes[names] = _checks_of(plan, names)
    checks = plan.shapes[names]
    if checks is None:
        return False
    for check, value in zip(checks, fields.values(), strict=True):
        if not isinstance(value, str) or not check(value):
            return False
    return True


def _checks_of(plan: _Plan, names: tuple[str, ...]) -> tuple[Callable[[str], bool], ...] | None:
    """Return the checks of an entry with these fields filled, in their order; `None` where the fields do not fit."""
    filled = set(names)
    if not plan.needed <= filled or not plan.checks.keys() >= filled:
        return None
    if any((name in filled) is not (unit in filled) for name, unit in plan.pairs):
        return None
    if plan.one_of and not any(group <= filled for group in plan.one_of):
        return None
    return tuple(plan.checks[name] for name in names)


def _quoted(value: object) -> str:
    return f"“{value}”" if isinstance(value, str) else repr(value)


def _names(spec: KindSpec) -> str:
    return listed(", ", map(said, spec.fields))


def _one_of(choices: Iterable[str]) -> Said:
    """Name codes of the log one may choose from; they are written as they stand in it."""
    return said("one of {names}", names=", ".join(choices))


def _any_group(groups: Iterable[tuple[str, ...]]) -> str:
    """Say of which groups of fields one must be filled whole."""
    told = ""
    for group in groups:
        together: str = said(group[0])
        for name in group[1:]:
            together = said("{first} with {last}", first=together, last=said(name))
        told = said("{first}, or {last}", first=told, last=together) if told else together
    return told


def _units(field: FieldSpec) -> str:
    return ", ".join(UNITS[field.unit_kind or ""])
