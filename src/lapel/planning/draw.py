"""Whom to sample, and how many samplers to take besides: the draw, field blanks, duplicates and spares."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from lapel.planning.arguments import share

#: NIOSH 77-173's table for at least one of the top 10 % with 90 % confidence: group size from-to and number.
#: Known from the document, not re-read clause by clause; the last row is for groups without bound.
NIOSH_77_173_TOP_TENTH: tuple[tuple[int, int | None, int], ...] = (
    (8, 8, 7),
    (9, 9, 8),
    (10, 10, 9),
    (11, 12, 10),
    (13, 14, 11),
    (15, 17, 12),
    (18, 20, 13),
    (21, 24, 14),
    (25, 29, 15),
    (30, 37, 16),
    (38, 49, 17),
    (50, 50, 18),
    (51, None, 22),
)


@dataclass(frozen=True)
class DrawSize:
    """
    How many workers to draw: the exact number, and what the published table says beside it.

    ``published`` is None where the table does not answer the question asked.
    """

    group_size: int
    top_members: int
    exact: int
    chance: float
    published: int | None
    published_name: str
    words: str


def chance_to_catch(group_size: int, top_members: int, drawn: int) -> Fraction:
    """
    Exact chance that a random draw without replacement holds at least one of the top members.

    Parameters
    ----------
    group_size, top_members, drawn : int
        N, m and n with m and n at most N.

    Returns
    -------
    Fraction
        1 - C(N - m, n) / C(N, n), the hypergeometric distribution.

    Raises
    ------
    ValueError
        A number is negative, or more are in the top or drawn than there are.
    """
    if not (0 <= top_members <= group_size and 0 <= drawn <= group_size):
        raise ValueError(
            f"`top_members` ({top_members}) and `drawn` ({drawn}) must lie between 0 and `group_size` ({group_size})"
        )
    return 1 - Fraction(math.comb(group_size - top_members, drawn), math.comb(group_size, drawn))


def workers_to_draw(group_size: int, *, top: float = 0.10, confidence: float = 0.90) -> DrawSize:
    """
    Fewest workers to draw so that at least one of the most exposed is among them.

    Parameters
    ----------
    group_size : int
        Workers in the group.
    top : float
        Share called the most exposed; their number is rounded up. [-]
    confidence : float
        Wanted chance to catch at least one. [-]

    Returns
    -------
    DrawSize
        Exact number with its chance; the NIOSH 77-173 row beside it for a tenth and 90 %.

    Raises
    ------
    ValueError
        The group is empty, or a share is not above 0 and below 1.

    Notes
    -----
    Exact in rational arithmetic, so that a chance of exactly 90 % counts. The published table differs by up to a
    few workers because it does not round the top tenth up to whole workers [1]_.

    References
    ----------
    .. [1] NIOSH 77-173, Occupational Exposure Sampling Strategy Manual, 1977, chapter 3.
    """
    if group_size < 1:
        raise ValueError(f"`group_size` must be at least 1; it is {group_size}")
    share(top=top, confidence=confidence)
    if confidence >= 1:
        raise ValueError("`confidence` must be below 1: certainty wants everybody")
    wanted = Fraction(str(confidence))
    top_members = math.ceil(Fraction(str(top)) * group_size)
    exact = next(n for n in range(1, group_size + 1) if chance_to_catch(group_size, top_members, n) >= wanted)
    published = _published(group_size) if (top, confidence) == (0.10, 0.90) else None
    chance = float(chance_to_catch(group_size, top_members, exact))
    most_exposed = "the most exposed worker" if top_members == 1 else f"the {top_members} most exposed workers"
    words = (
        f"{exact} of {group_size}: the chance that {'' if top_members == 1 else 'at least one of '}{most_exposed} "
        f"is drawn is {100 * chance:.1f} % (exact, hypergeometric)."
    )
    if published is not None:
        words += f" NIOSH 77-173 prints {published}" + (
            " (its row for groups without bound)." if group_size > 50 else "."
        )
    return DrawSize(group_size, top_members, exact, chance, published, "NIOSH 77-173", words)


def _published(group_size: int) -> int:
    for low, high, number in NIOSH_77_173_TOP_TENTH:
        if low <= group_size and (high is None or group_size <= high):
            return number
    return group_size  # below its first row the table wants everybody


@dataclass(frozen=True)
class RandomDraw:
    """A draw that anyone can repeat from the codes and the recorded seed."""

    seed: str
    drawn: tuple[str, ...]
    reserves: tuple[str, ...]
    method: str = "codes in order of SHA-256 of 'seed:code'"


def draw_workers(codes: Sequence[str], number: int, *, seed: str) -> RandomDraw:
    """
    Draw workers at random, with reserves in order.

    Parameters
    ----------
    codes : sequence of str
        Worker codes; their order does not matter.
    number : int
        How many to draw.
    seed : str
        Recorded with the plan; not to be chosen after looking at what it draws.

    Returns
    -------
    RandomDraw
        The drawn, and the rest in the order in which they replace an absent worker.

    Raises
    ------
    ValueError
        Codes occur twice, more are wanted than there are, or the seed is empty.
    """
    if len(set(codes)) != len(codes):
        twice = sorted({code for code in codes if list(codes).count(code) > 1})
        raise ValueError(f"`codes` must differ; {', '.join(twice)} occurs more than once")
    if not 0 <= number <= len(codes):
        raise ValueError(f"`number` must lie between 0 and the {len(codes)} workers; it is {number}")
    if not seed:
        raise ValueError("`seed` must not be empty: an unrecorded draw cannot be repeated")
    order = sorted(codes, key=lambda code: hashlib.sha256(f"{seed}:{code}".encode()).digest())
    return RandomDraw(seed, tuple(order[:number]), tuple(order[number:]))


@dataclass(frozen=True)
class BlankRule:
    """
    How many field blanks a set wants: at least ``least``, one per ``one_per`` samples, ``each_day`` a day.

    ``opened`` says whether the blank is opened at the site; thermal desorption tubes stay capped at all times
    because an open tube samples by diffusion (NIOSH 2549).
    """

    name: str
    least: int
    one_per: int | None
    each_day: int = 0
    at_most: int | None = None
    opened: bool = True
    source: str = ""
    is_read_in_source: bool = False


NMAM_SET = BlankRule("NMAM, most sheets", 2, 10, at_most=10, source="NMAM method sheets: 2 to 10 per set",
                     is_read_in_source=True)  # fmt: skip
NIOSH_2549 = BlankRule("NIOSH 2549, thermal tubes", 1, None, at_most=3, opened=False,
                       source="NIOSH 2549: 1 to 3 per set, capped at all times", is_read_in_source=True)  # fmt: skip
OSHA_TWENTY = BlankRule("OSHA", 1, 20, source="OSHA Technical Manual II:1: one per up to 20 samples")
MDHS_TENTH = BlankRule("HSE MDHS", 1, 10, source="HSE MDHS: at least 1 per 10 samples")
ISO_BATCH = BlankRule("ISO 22065 family", 3, None, source="ISO 22065 family: at least 2 to 3 per batch")


def field_blanks(samples: int, rule: BlankRule, *, days: int = 1) -> int:
    """
    Field blanks for a set of samples of one medium and lot.

    Parameters
    ----------
    samples : int
        Samples of the set.
    rule : BlankRule
    days : int
        Field days of the set.

    Returns
    -------
    int
        The largest of the rule's demands, cut at its maximum; 0 for no samples.

    Raises
    ------
    ValueError
        A number is negative.
    """
    if samples < 0 or days < 0:
        raise ValueError(f"`samples` ({samples}) and `days` ({days}) must not be negative")
    if samples == 0:
        return 0
    wanted = max(rule.least, math.ceil(samples / rule.one_per) if rule.one_per else 0, rule.each_day * days)
    return wanted if rule.at_most is None else min(wanted, rule.at_most)


def duplicates(samples: int, *, share_of_samples: float = 0.05, least: int = 1) -> int:
    """Side-by-side duplicates for a set: a share of the samples, rounded up, at least some; 0 for no samples."""
    share(share_of_samples=share_of_samples)
    return 0 if samples == 0 else max(least, math.ceil(Fraction(str(share_of_samples)) * samples))


def spares(samples: int, worker_days: int, *, share_of_samples: float = 0.10) -> int:
    """Spare samplers of a medium: one per worker-day or a share of the samples, whichever is more (judgement)."""
    share(share_of_samples=share_of_samples)
    return 0 if samples == 0 else max(worker_days, math.ceil(Fraction(str(share_of_samples)) * samples))
