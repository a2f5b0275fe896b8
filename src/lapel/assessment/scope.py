"""
Scope: which agents, which limits, which methods, before anything is planned.

Looks substances up by name, synonym or CAS number in the reference library. What only comes near is a question for the
person who asked, and is never taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from lapel.figures import display_unit
from lapel.hygiene.concentration import to_mg_m3
from lapel.reference import Found, Library, Limit, MethodName, MethodRow, Substance

CAS = re.compile(r"(?<![\d-])\d{2,7}-\d{2}-\d(?![\d-])")
_SHARE = re.compile(
    r"[<>≤≥~]?\s*\d+(?:[.,]\d+)?\s*(?:(?:-|–|to|…|\.\.)\s*[<≤=]*\s*\d+(?:[.,]\d+)?\s*)?(?:%|w/w|wt\.?-?%?)\S*"
)
_OTHER_NUMBERS = re.compile(r"(?:EC|EINECS|REACH|INDEX)[\s-]*(?:no\.?|number|nr\.?)?[:\s]*[\d-]+", re.IGNORECASE)
_BARE_NUMBERS = re.compile(r"(?<![\d-])(?:\d{3}-\d{3}-\d|\d{3}-\d{3}-\d{2}-[\dX])(?![\d-])")
"""EC and index numbers without their name in front: 203-625-9, 601-021-00-3."""
_BARE_RANGE = re.compile(r"\s[<>≤≥]?\s*\d+(?:[.,]\d+)?\s*(?:-|–|to)\s*[<≤]?\s*\d+(?:[.,]\d+)?\s*$")
_WORDS = re.compile(r"\bCAS\b(?:[\s-]*(?:no|number|nr)\b\.?)?[:\s]*", re.IGNORECASE)
_SPLIT = re.compile(r"[;\t|]")
_COLUMN = re.compile(
    r"\bCAS[\s-]*(?:no|number|nr|rn)\b|\bEC[\s-]*(?:no|number)\b|\b(?:chemical|substance|common) name\b"
    r"|\bconc(?:entration)?\b|\bingredients?\b|\bclassification\b|\bREACH\b",
    re.IGNORECASE,
)
_SECTION = re.compile(r"^(?:section\s*)?3(?:\.\d)?[.:\s-]+(?:composition|mixtures?|substances?)\b", re.IGNORECASE)

Law: TypeAlias = Literal["", "US", "EU", "elsewhere"]
"""Whose limits are law where the work is done; empty: nobody has said."""

SAME = 1.03
"""Limits closer than this are one limit in two units: conversions in print round to so much. [-]"""

KINDS = {
    "shift": ("TWA-8h", "TWA-10h"),
    "short term": ("STEL-15min", "STEL-60min"),
    "ceiling": ("ceiling", "peak"),
}
"""Limits that answer one question, and so can be put in order."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One line as it was asked, with the CAS numbers and the name read from it."""

    text: str
    numbers: tuple[str, ...]
    name: str


@dataclass(frozen=True, slots=True)
class Argument:
    """Why one limit binds for one question (shift, short term, ceiling), in words; `binding` None without law."""

    about: str
    binding: Limit | None
    stricter: Limit | None
    words: str


@dataclass(frozen=True, slots=True)
class AgentScope:
    """What is known of one line: the substance with its limits and methods, or the question to put."""

    asked: Asked
    substance: Substance | None
    question: str = ""
    candidates: tuple[Found, ...] = ()
    limits: tuple[Limit, ...] = ()
    arguments: tuple[Argument, ...] = ()
    methods: tuple[MethodRow, ...] = ()
    named_methods: tuple[MethodName, ...] = ()
    cautions: tuple[str, ...] = ()


def asked_lines(texts: Iterable[str]) -> tuple[Asked, ...]:
    """
    Read what was asked: names, numbers, or a list pasted from a safety data sheet, an ingredient a line.

    Parameters
    ----------
    texts : iterable of str

    Returns
    -------
    tuple of Asked
        Shares and other registers' numbers are left out of the name; empty lines are not asked.
    """
    found = []
    for text in texts:
        for line in text.splitlines():
            line = line.strip().strip("•*- ").strip()
            if not line:
                continue
            numbers = tuple(dict.fromkeys(CAS.findall(_OTHER_NUMBERS.sub(" ", line))))
            rest = CAS.sub(" ", _OTHER_NUMBERS.sub(" ", line))
            rest = _SHARE.sub(" ", _WORDS.sub(" ", _BARE_NUMBERS.sub(" ", rest)))
            rest = _BARE_RANGE.sub(" ", rest)
            parts = [part.strip(" ,.:()[]<>=≥≤~-") for part in _SPLIT.split(rest)]
            name = next((part for part in parts if re.search(r"[A-Za-z]{2}", part)), "")
            if numbers or name:
                found.append(Asked(line, numbers, re.sub(r"\s+", " ", name)))
    return tuple(found)


def scope(lines: Sequence[Asked], library: Library, *, here: Law = "") -> tuple[AgentScope, ...]:
    """
    Look every line up.

    Parameters
    ----------
    lines : sequence of Asked
    library : Library
    here : Law
        Whose limits are law where the work is done; empty where nobody has said.

    Returns
    -------
    tuple of AgentScope
        In the order asked; a substance asked twice stands once.
    """
    scopes: list[AgentScope] = []
    seen: set[str] = set()
    for line in lines:
        substance, question, candidates = _looked_up(line, library)
        if substance is None:
            scopes.append(AgentScope(line, None, question, candidates))
        elif substance.cas not in seen:
            seen.add(substance.cas)
            scopes.append(_scope_of(line, substance, question, library, here))
    return tuple(scopes)


def _looked_up(line: Asked, library: Library) -> tuple[Substance | None, str, tuple[Found, ...]]:
    if len(line.numbers) > 1:
        return None, f"the line holds {len(line.numbers)} CAS numbers ({', '.join(line.numbers)}): one a line", ()
    key = line.numbers[0] if line.numbers else line.name
    found = library.search(key)
    exact = {item.substance.cas: item.substance for item in found if item.how == "exact"}
    if len(exact) == 1:
        substance = next(iter(exact.values()))
        return substance, _name_disagrees(line, substance, library), ()
    if len(exact) > 1:
        names = ", ".join(f"{item.name} ({item.cas})" for item in exact.values())
        return None, f"“{key}” names more than one substance: {names}. Which one?", tuple(found)
    try:
        library.substance(key)
    except LookupError as problem:
        named = _exactly_named(line.name, library) if line.numbers else ()
        if named:
            names = ", ".join(f"{item.substance.name} ({item.substance.cas})" for item in named)
            return None, f"{problem} “{line.name}” by its name is {names}: is that meant?", named
        if not line.numbers and _reads_as_heading(line.text):
            return None, "this line reads like a heading of the sheet, not an ingredient: if so, leave it.", ()
        return None, str(problem), tuple(found)
    return None, "", ()  # pragma: no cover - an exact match was found above


def _reads_as_heading(text: str) -> bool:
    """Whether a line is that of a sheet's section 3, or names two of the columns of its list."""
    return bool(_SECTION.search(text)) or len({found.casefold() for found in _COLUMN.findall(text)}) > 1


def _exactly_named(name: str, library: Library) -> tuple[Found, ...]:
    """The substances a name is exactly that of."""
    return tuple(found for found in library.search(name) if found.how == "exact")


def _name_disagrees(line: Asked, substance: Substance, library: Library) -> str:
    """A question where the name on the line is exactly that of another substance than the number's."""
    if not (line.numbers and line.name):
        return ""
    others = [f for f in library.search(line.name) if f.how == "exact" and f.substance.cas != substance.cas]
    if not others or any(f.substance.cas == substance.cas for f in library.search(line.name)):
        return ""
    return (
        f"the line says “{line.name}”, and CAS {substance.cas} is {substance.name}: which is meant? "
        "The number was looked up here."
    )


def _scope_of(line: Asked, substance: Substance, question: str, library: Library, here: Law) -> AgentScope:
    limits = library.limits_for(substance.cas)
    return AgentScope(
        line,
        substance,
        question,
        (),
        limits,
        arguments_for(limits, substance, here=here),
        library.methods_for(substance.cas),
        library.method_names_for(substance.cas),
        _cautions(substance, limits, here),
    )


def is_law(limit: Limit, here: Law = "") -> bool:
    """
    Whether a limit is law where the work is done, as far as the packaged table says.

    Where nobody has said where that is, whether it is law in the place it is printed for. EU limits bind through each
    member state's own law, so they count only where somebody has said that the work is done in one.
    """
    if here == "EU":
        return limit.authority == "EU"
    return "law" in limit.jurisdiction and here in ("", "US")


def standing_words(limit: Limit) -> str:
    """Where a limit is law, in words."""
    if limit.authority == "EU":
        return "European Union: each member state puts it into its own law, some more strictly"
    if "law" in limit.jurisdiction:
        return "law in the United States (federal; a state may have its own)"
    return "advisory: law nowhere by itself"


def comparable_mg_m3(limit: Limit, substance: Substance) -> float | None:
    """A limit in mg/m3 at 25 °C and 101.325 kPa, to put limits in order; None where that cannot be done."""
    if limit.value is None:
        return None
    if limit.unit == "mg/m3":
        return limit.value
    if limit.unit == "ppm" and substance.molar_mass:
        return float(to_mg_m3(limit.value, substance.molar_mass).value)
    return None


def arguments_for(limits: Sequence[Limit], substance: Substance, *, here: Law = "") -> tuple[Argument, ...]:
    """
    Argue which limit binds: regulatory first, then the stricter guide value; shown, never decided.

    Parameters
    ----------
    limits : sequence of Limit
    substance : Substance
    here : Law
        Whose limits are law where the work is done.

    Returns
    -------
    tuple of Argument
        One for each question there is a limit for.
    """
    found = []
    for about, types in KINDS.items():
        mine = [(limit, comparable_mg_m3(limit, substance)) for limit in limits if limit.limit_type in types]
        ordered = sorted(((limit, value) for limit, value in mine if value is not None), key=lambda pair: pair[1])
        if ordered:
            found.append(_argument(about, ordered, limits, here))
    return tuple(found)


def _argument(about: str, ordered: Sequence[tuple[Limit, float]], printed: Sequence[Limit], here: Law) -> Argument:
    law = [(limit, value) for limit, value in ordered if is_law(limit, here)]
    guides = [(limit, value) for limit, value in ordered if not is_law(limit, here)]
    if not law:
        lowest = guides[0][0]
        where = " that is law here" if here else ""
        words = f"No limit{where} is packaged: look for your own country's. " if here else ""
        words = words or "No limit that is law anywhere by itself is packaged. "
        words += f"The lowest one printed is {limit_words(lowest)} ({standing_words(lowest)})."
        return Argument(about, None, lowest, words)
    least = law[0][1]
    # of one limit printed in two units, as in 1 ppm and 3.19 mg/m3, the one the table has first is the authority's own
    binding = next(
        limit for limit, value in sorted(law, key=lambda pair: printed.index(pair[0])) if value <= least * SAME
    )
    words = {
        "": f"Binding where it is law, in the United States: {limit_words(binding)}.",
        "US": f"Binding here: {limit_words(binding)}.",
        "EU": f"Binding here once your country has made it law, perhaps more strictly: {limit_words(binding)}.",
        "elsewhere": "",
    }[here]
    apart = [limit for limit, value in law[1:] if value > least * SAME]
    if apart:
        others = "; ".join(limit_words(limit) + (f" ({limit.note})" if limit.note else "") for limit in apart)
        words += f" The same authority also prints {others}: read which operations it is for."
    if binding.note:
        words += f" Note: {binding.note}."
    stricter = guides[0][0] if guides and guides[0][1] * SAME < least else None
    if stricter is not None:
        words += (
            f" Stricter: {limit_words(stricter)} ({standing_words(stricter)}); plan so that it can be seen as well."
        )
    elif guides:
        words += " No other packaged limit is stricter."
    return Argument(about, binding, stricter, words)


def limit_words(limit: Limit) -> str:
    """Authority, kind, number and unit as printed."""
    if limit.value is None:
        return f"{limit.authority} {limit.limit_type}: no number printed"
    return f"{limit.authority} {limit.limit_type} {limit.value:g} {display_unit(limit.unit)}" + (
        f" ({limit.fraction})" if limit.fraction else ""
    )


def _cautions(substance: Substance, limits: Sequence[Limit], here: Law) -> tuple[str, ...]:
    words = []
    if any(limit.skin for limit in limits):
        words.append("Skin notation: air samples do not show what goes through the skin.")
    carcinogen = sorted({f"{limit.authority}: {limit.carcinogen}" for limit in limits if limit.carcinogen})
    if carcinogen:
        words.append(f"Carcinogen notation ({'; '.join(carcinogen)}): as low as can be, whatever the limit.")
    if substance.physical_form and "vapour" not in substance.physical_form and "gas" not in substance.physical_form:
        words.append(f"Not a vapour ({substance.physical_form}): sorbent tubes alone may not collect it.")
    if not limits:
        words.append("No limit is packaged: look for one where you are, or set a house value with its reason.")
    elif not any(is_law(limit, here) for limit in limits):
        words.append("No limit that is law where you are is packaged for it: look up your own country's.")
    return tuple(words)


BEFORE_SAMPLING = (
    "Flammable vapours: areas may be classified; only pumps certified for them go in, phones and tablets stay outside.",
    "Glass tubes break; carry a breaker, covers and eye protection.",
    "Confined spaces: no entry to hang or check a pump without the site's permit.",
    "Products change on heating, curing and mixing: an ingredient list does not name what forms.",
    "Effect groups for mixtures are not in the packaged tables: write them down with each agent, and who says so.",
    "Packaged limits are copies, of few authorities. Confirm each: local rules and licensed practice decide.",
)
