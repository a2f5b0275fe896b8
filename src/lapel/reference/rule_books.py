"""Rule books from their files: the packaged ones by key, a house's own from a path."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

from lapel.hygiene.measures import CLAIM, MEASURES
from lapel.hygiene.rulebook import CHOICES, Bound, Choice, ChoiceSpec, Citation, Rule, RuleBook, Tier
from lapel.reference.problems import FileFault, UnusableFileError
from lapel.reference.schema import place, shape_faults

PACKAGED = ("practice", "us-osha", "niosh", "en-iso", "uk", "house")
"""Keys of the packaged rule books; “practice” is the ground the others stand on."""

NUMBER_BOUNDS: tuple[Bound, ...] = ("above", "from", "below")


@cache
def rule_book(key: str) -> RuleBook:
    """
    Return a packaged rule book.

    Parameters
    ----------
    key : str
        One of `PACKAGED`.

    Raises
    ------
    KeyError
        There is no packaged rule book of that key; the message lists those there are.
    """
    if key not in PACKAGED:
        raise KeyError(f"no rule book “{key}” is packaged; there are {', '.join(PACKAGED)}")
    text = files("lapel.reference").joinpath("rulebooks", f"{key}.toml").read_text(encoding="utf-8")
    return _from_text(text, f"{key}.toml", check_shape=False)


def rule_book_from(path: str | Path, *, base_beside: bool = False) -> RuleBook:
    """
    Read a rule book from a file, checked against the schema and against the measures there are.

    Parameters
    ----------
    path : path
        A TOML file in the layout of ``docs/reference/rule-book.schema.json``.
    base_beside : bool
        Whether the book it is based on is read from the file beside it, where one stands there, instead of from the
        packaged ones: a record of decades ago must not be read by today's rules.

    Raises
    ------
    UnusableFileError
        With every fault, each naming file, rule and field.
    """
    file = Path(path)
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise UnusableFileError([FileFault(file.name, error.strerror or "no file", "a rule book in TOML")]) from error
    except UnicodeDecodeError as error:
        raise UnusableFileError([FileFault(file.name, f"bytes that are no UTF-8 ({error})", "UTF-8")]) from error
    return _from_text(text, file.name, check_shape=True, beside=file.parent if base_beside else None)


def _from_text(text: str, file: str, *, check_shape: bool, beside: Path | None = None) -> RuleBook:
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise UnusableFileError([FileFault(file, str(error), "a file in TOML")]) from error
    if check_shape and (faults := shape_faults(document, file)):
        raise UnusableFileError(faults)
    return _Reading(document, file, beside).book()


class _Reading:
    """One rule-book file being read; gathers faults so that all are told at once."""

    def __init__(self, document: Mapping[str, Any], file: str, beside: Path | None) -> None:
        self.document = document
        self.file = file
        self.beside = beside
        self.faults: list[FileFault] = []

    def book(self) -> RuleBook:
        base = self._base()
        rules = [self._rule(raw, index) for index, raw in enumerate(self.document.get("rule", ()))]
        choices = {name: self._choice(name, raw) for name, raw in self.document.get("choices", {}).items()}
        self._repeated_ids(rules)
        all_rules = self._over(base, rules)
        all_choices = {**(base.choices if base else {}), **choices}
        missing = [name for name in CHOICES if name not in all_choices]
        if missing and not (self.faults and base is None and "based_on" in self.document):
            self._fault((), f"no choice {', '.join(missing)}", "every choice, or “based_on” a book that has made it")
        if self.faults:
            raise UnusableFileError(self.faults)
        return RuleBook(
            key=self.document["key"],
            title=self.document["title"],
            authority=self.document["authority"],
            edition=self.document["edition"],
            source=self.document["source"],
            caution=self.document["caution"],
            rules=tuple(all_rules),
            choices=all_choices,
            origin=self.file,
        )

    def _fault(self, path: tuple[str | int, ...], found: str, wanted: str) -> None:
        self.faults.append(FileFault(place(self.document, path, self.file), found, wanted))

    def _base(self) -> RuleBook | None:
        key = self.document.get("based_on")
        if key is None:
            return None
        if key not in PACKAGED or key == self.document["key"]:
            self._fault(("based_on",), f"“{key}”", f"another of {', '.join(PACKAGED)}")
            return None
        stands = self.beside / f"{key}.toml" if self.beside else None
        return rule_book(key) if stands is None or not stands.exists() else rule_book_from(stands, base_beside=True)

    def _over(self, base: RuleBook | None, own: list[Rule]) -> list[Rule]:
        """Lay this file's rules over the base's: the same id replaces a whole rule, new ids come last."""
        by_id = {rule.id: rule for rule in own}
        below = base.rules if base else ()
        known = {rule.id for rule in below}
        left_out = set()
        for index, row in enumerate(self.document.get("without", ())):
            if row["rule"] not in known:
                self._fault(("without", index), f"“{row['rule']}”", "a rule of the book this one is based on")
            left_out.add(row["rule"])
        kept = [by_id.get(rule.id, rule) for rule in below if rule.id not in left_out]
        return kept + [rule for rule in own if rule.id not in known]

    def _repeated_ids(self, rules: list[Rule]) -> None:
        seen: set[str] = set()
        for index, rule in enumerate(rules):
            if rule.id in seen:
                self._fault(("rule", index, "id"), "the same id a second time", "one rule an id")
            seen.add(rule.id)

    def _citation(self, raw: Mapping[str, Any]) -> Citation:
        return Citation(raw["document"], raw["section"], raw["certainty"], raw["clause_unread"])

    def _choice(self, name: str, raw: Mapping[str, Any]) -> Choice:
        value: Any = raw["value"]
        spec = CHOICES.get(name)
        if spec is None:
            self._fault(("choices", name), f"“{name}”", f"one of {', '.join(CHOICES)}")
        elif not _allowed(spec, value):
            self._fault(("choices", name, "value"), f"“{value}”", _allowed_words(spec))
        if isinstance(value, list):
            value = tuple(value)
        return Choice(name, value, raw.get("words") or (spec.words if spec else ""), self._citation(raw))

    def _rule(self, raw: Mapping[str, Any], index: int) -> Rule:
        path: tuple[str | int, ...] = ("rule", index)
        unit = None
        if raw["measure"] not in MEASURES:
            self._fault((*path, "measure"), f"“{raw['measure']}”", f"one of the measures {', '.join(sorted(MEASURES))}")
        else:
            unit = MEASURES[raw["measure"]].unit
        tiers = [self._tier(row, (*path, "tier", no), unit) for no, row in enumerate(raw.get("tier", ()))]
        self._order(tiers, path)
        if not tiers and "not_recorded" not in raw:
            self._fault(path, "neither a tier nor “not_recorded”", "at least one of them")
        has_number = bool(tiers) and bool(tiers[0].value)
        if has_number and "{limit}" not in raw["wanted"]:
            self._fault((*path, "wanted"), f"“{raw['wanted']}”", "the place of the first tier's number, as “{limit}”")
        unrecorded = None
        if "not_recorded" in raw:
            out = raw["not_recorded"]
            unrecorded = Tier("not recorded", None, out["effect"], out["words"], out["remedy"])
        return Rule(
            id=raw["id"],
            title=raw["title"],
            measure=raw["measure"],
            wanted=raw["wanted"],
            tiers=tuple(tiers),
            citation=self._citation(raw),
            unrecorded=unrecorded,
            note=raw.get("note", ""),
        )

    def _tier(self, row: Mapping[str, Any], path: tuple[str | int, ...], unit: str | None) -> Tier:
        given = [bound for bound in (*NUMBER_BOUNDS, "is") if bound in row]
        wanted = "exactly one of “above”, “from”, “below” and “is”"
        if len(given) != 1:
            self._fault(path, f"{len(given)} of them" if given else "none of them", wanted)
            return Tier("is", None, row["effect"], row["words"], row["remedy"])
        bound = given[0]
        value = None
        if bound == "is":
            if unit not in (None, CLAIM):
                self._fault((*path, "is"), "true", f"a number in “{unit}”: this measure is no claim")
        else:
            value = self._amount(row[bound], (*path, bound), unit)
        citation = self._citation(row) if "document" in row else None
        return Tier(bound, value, row["effect"], row["words"], row["remedy"], citation)

    def _amount(self, text: str, path: tuple[str | int, ...], unit: str | None) -> float:
        number, _, given = text.partition(" ")
        if unit == CLAIM:
            self._fault(path, f"“{text}”", "“is = true”: this measure is a claim, not a number")
        elif unit is not None and given != unit:
            self._fault(path, f"“{text}”", f"a number in “{unit}”" if unit else "a number without a unit")
        return float(number)

    def _order(self, tiers: list[Tier], path: tuple[str | int, ...]) -> None:
        directions = {tier.bound == "below" for tier in tiers}
        if len(directions) > 1:
            self._fault(path, "tiers above and below in one rule", "two rules, one for each direction")
            return
        values = [tier.value for tier in tiers if tier.value is not None]
        further = [-value for value in values] if directions == {True} else values
        if any(b <= a for a, b in pairwise(further)):
            self._fault(
                path, f"tiers at {', '.join(f'{value:g}' for value in values)}", "each tier beyond the one before"
            )


def _allowed(spec: ChoiceSpec, value: Any) -> bool:
    if spec.kind == "words":
        return isinstance(value, list) and all(isinstance(item, str) for item in value)
    if spec.kind == "word":
        return isinstance(value, str) and value in spec.allowed
    if isinstance(value, bool) or not isinstance(value, int if spec.kind == "count" else (int, float)):
        return False
    return bool(spec.least <= value < float("inf"))


def _allowed_words(spec: ChoiceSpec) -> str:
    if spec.kind == "words":
        return "a list of words"
    if spec.kind == "word":
        return f"one of {', '.join(f'“{word}”' for word in spec.allowed)}"
    return f"a {'whole ' if spec.kind == 'count' else ''}number, {spec.least:g} or more"
