"""Our samplers among the names a laboratory printed: exactly, or nearly with the reason, for a person to confirm."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

HowMatched: TypeAlias = Literal["exact", "confirmed", "near"]

_ALIKE = str.maketrans("oOiIlLsSbBzZgG", "00111155882266")
_SHORTEST = 3
"""Codes shorter than this, marks away, are too easily mistaken to be matched by a sign that differs."""
_QUALITY = re.compile(
    r"\b(lcs|lcsd|method blank|reagent blank|lab(oratory)? blank|media blank|matrix "
    r"spike|spiked?|ms|msd|ccv|icv|ccb|icb|"
    r"control|qc|quality control|calibration|standard|recovery check|solvent blank|kontrolle|kontrollprobe|"
    r"reagenzienblindwert|blanc labo|temoin|crm|reference material)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class NameMatch:
    """A printed name and the sampler it stands for; `why` says how that is known, `near` is yet to be confirmed."""

    printed: str
    sampler: str
    how: HowMatched
    why: str


@dataclass(frozen=True, slots=True)
class UnknownName:
    """A printed name that is none of ours; `candidates` are those it may be, each with the reason."""

    printed: str
    candidates: tuple[tuple[str, str], ...] = ()
    is_quality_control: bool = False


def matched_names(
    printed: Iterable[str], ours: Iterable[str], confirmed: Mapping[str, str] | None = None
) -> tuple[tuple[NameMatch, ...], tuple[UnknownName, ...]]:
    """
    Match printed names to our samplers.

    Parameters
    ----------
    printed : iterable of str
        Names in a report, each once.
    ours : iterable of str
        Codes of samples and blanks.
    confirmed : mapping of str to str, optional
        What a person has said of printed names.

    Returns
    -------
    tuple
        Matches and unknown names. A near-match is given only where one of our samplers, and no other, comes near, and
        no other printed name claims it.
    """
    names = list(dict.fromkeys(printed))
    codes = set(ours)
    confirmed = confirmed or {}
    found: list[NameMatch] = []
    left: list[str] = []
    for name in names:
        if name in confirmed and confirmed[name] in codes:
            found.append(NameMatch(name, confirmed[name], "confirmed", "a person said so"))
        elif name in codes:
            found.append(NameMatch(name, name, "exact", "the same signs"))
        else:
            left.append(name)
    taken = {match.sampler for match in found}
    near = _Near(codes - taken)
    there = {bare(code) for code in taken}
    candidates = {name: {} if _QUALITY.search(name) or bare(name) in there else near.candidates(name) for name in left}
    claims: dict[str, list[str]] = defaultdict(list)
    for name, mine in candidates.items():
        for code in mine:
            claims[code].append(name)
    unknown = []
    for name, mine in candidates.items():
        only = next(iter(mine.items())) if len(mine) == 1 else None
        if only is not None and len(claims[only[0]]) == 1:
            found.append(NameMatch(name, only[0], "near", only[1]))
        else:
            unknown.append(UnknownName(name, tuple(sorted(mine.items())), bool(_QUALITY.search(name))))
    return tuple(found), tuple(unknown)


def bare(code: str) -> str:
    """Return a code without case, blanks, dashes and the leading zeros of its numbers."""
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", re.sub(r"[^0-9a-z]+", "", code.casefold()))


class _Near:
    """Codes by every form in which they may come back; looking one up does not go through all of them."""

    def __init__(self, codes: Iterable[str]) -> None:
        self._bare: dict[str, set[str]] = defaultdict(set)
        self._alike: dict[str, set[str]] = defaultdict(set)
        self._one_less: dict[str, set[str]] = defaultdict(set)
        self._codes = set(codes)
        for code in self._codes:
            plain = bare(code)
            self._bare[plain].add(code)
            self._alike[plain.translate(_ALIKE)].add(code)
            for shorter in _shorter(plain):
                self._one_less[shorter].add(code)

    def candidates(self, printed: str) -> dict[str, str]:
        """Return our codes a printed name may stand for, with the reason; only those of the best reason there is."""
        plain = bare(printed)
        for found in (
            dict.fromkeys(self._bare.get(plain, ()), "it differs only in case, blanks, dashes or leading zeros"),
            dict.fromkeys(self._within(printed), "our code stands within it"),
            dict.fromkeys(
                self._alike.get(plain.translate(_ALIKE), ()),
                "it differs only in signs that look alike, such as O and 0",
            ),
            self._one_sign(plain),
        ):
            if found:
                return found
        return {}

    def _within(self, printed: str) -> set[str]:
        words = re.split(r"[\s/,;|()\[\]]+", printed)
        return {code for word in words if len(bare(word)) >= _SHORTEST for code in self._bare.get(bare(word), ())}

    def _one_sign(self, plain: str) -> dict[str, str]:
        if len(plain) <= _SHORTEST:
            return {}
        found: dict[str, str] = {}
        for form in (plain, *_shorter(plain)):
            for code in (*self._one_less.get(form, ()), *(self._bare.get(form, ()) if form != plain else ())):
                words = _difference(plain, bare(code))
                if words:
                    found[code] = words
        return found


def _shorter(text: str) -> set[str]:
    return {text[:at] + text[at + 1 :] for at in range(len(text))}


def _difference(one: str, other: str) -> str:
    """Say how two codes differ, if it is one sign or two neighbours changed about; empty if it is more."""
    if len(one) == len(other):
        at = [index for index, pair in enumerate(zip(one, other, strict=True)) if pair[0] != pair[1]]
        if len(at) == 1:
            return f"one sign differs ({one[at[0]]} for {other[at[0]]})"
        if len(at) == 2 and at[1] == at[0] + 1 and one[at[0]] == other[at[1]] and one[at[1]] == other[at[0]]:
            return f"two signs changed about ({one[at[0] : at[1] + 1]} for {other[at[0] : at[1] + 1]})"
        return ""
    if one in _shorter(other):
        return "one sign of ours is missing"
    return "one sign more than ours" if other in _shorter(one) else ""
