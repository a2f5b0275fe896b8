"""What becomes of a long-term limit on a shift longer than it is stated for, and why."""

from __future__ import annotations

from dataclasses import dataclass

from lapel.assessment.inputs import LimitChoice, Shift
from lapel.assessment.shift_time import shift_minutes
from lapel.assessment.verdicts import limit_figure
from lapel.figures import Figure, significant
from lapel.figures.rounding import display_unit
from lapel.hygiene.extended_shifts import MODEL_WORDS, USUAL_WEEK_H, ExtendedShiftModel, extended_shift_limit
from lapel.said import listed, said

LONG_SHIFT_SLACK_MIN = 5.0
"""A shift this much longer than the reference period is still an ordinary one. Judgement."""

WEEKLY_MODELS = ("brief-scala-week", "proportional-week")
DAILY_MODELS = ("brief-scala-day", "proportional-day")

CONFIRM_WEEK = said("whether the limit also holds for such a week: its authority's own words")

PROTECTS_TWICE = {
    "survey": "; shortening it too ({model}, as the survey asks) would protect twice and was not done",
    "rule book": "; shortening it too ({model}, as the rule book asks) would protect twice and was not done",
}
SHORTENED_BY = {
    "week": "{stated}, shortened to {shortened} for a week of {hours} h ({model})",
    "day": "{stated}, shortened to {shortened} for a {hours} h shift ({model})",
}


@dataclass(frozen=True, slots=True)
class LimitAsCompared:
    """
    A limit as one shift is held against it.

    Attributes
    ----------
    value : Figure
        As stated, or shortened.
    note : str
        Why it was or was not shortened, in words; empty where there is nothing to say.
    shortened_for : str
        What it was shortened for (“10 h”, “a week of 50 h”); empty where it stands as stated.
    others : tuple of (words, Figure, what would settle it)
        Limits somebody else could defend.
    """

    value: Figure
    note: str = ""
    shortened_for: str = ""
    others: tuple[tuple[str, Figure, str], ...] = ()


def stated_for_long_days(limit: LimitChoice, shift: Shift, model: str) -> LimitAsCompared:
    """
    Leave a limit as it stands that is stated for days as long as this one.

    NIOSH states its limits for up to 10 hours a day in a week of 40 [1]_: shortening one for a day of 10 hours would
    protect twice. Of a longer week it does not speak: the limit shortened by the week is then another choice, shown.

    References
    ----------
    .. [1] NIOSH Pocket Guide to Chemical Hazards, introduction, “Exposure limits”.
    """
    assert limit.averaging_min is not None  # the caller's case
    stated_h, length_h = limit.averaging_min / 60.0, shift_minutes(shift) / 60.0
    note = said(
        "{authority} states it for up to {stated} h a day, so it stands for this shift of {hours} h",
        authority=said(limit.authority),
        stated=f"{stated_h:g}",
        hours=f"{length_h:g}",
    )
    if model in DAILY_MODELS:
        asks = "survey" if limit.extended_shift_model else "rule book"
        note += said(PROTECTS_TWICE[asks], model=MODEL_WORDS[model])
    value = limit_figure(limit)
    week = shift.hours_per_week
    if week is None or week <= USUAL_WEEK_H:
        return LimitAsCompared(value, note)
    weekly = extended_shift_limit(value, hours_per_day=length_h, hours_per_week=week, model="brief-scala-week")
    note = listed(
        ". ",
        (
            note,
            said(
                "The week of {week} h is another matter: an authority may state its limits for weeks of {usual} h "
                "(NIOSH does); shortened by the week it would be {limit}",
                week=f"{week:g}",
                usual=f"{USUAL_WEEK_H:g}",
                limit=_shown(weekly),
            ),
        ),
    )
    other = said(
        "the limit shortened to {limit} for the week of {week} h ({model})",
        limit=_shown(weekly),
        week=f"{week:g}",
        model=MODEL_WORDS["brief-scala-week"],
    )
    return LimitAsCompared(value, note, others=((other, weekly, CONFIRM_WEEK),))


def shortened_for(limit: LimitChoice, shift: Shift, model: ExtendedShiftModel) -> LimitAsCompared | str:
    """Shorten a limit by a published model; words where the model cannot be used here."""
    value, length_h, week = limit_figure(limit), shift_minutes(shift) / 60.0, shift.hours_per_week
    weekly = model in WEEKLY_MODELS
    stated_h = limit.averaging_min / 60.0 if limit.averaging_min and limit.averaging_min > shift.reference_min else None
    try:
        shortened = extended_shift_limit(
            value,
            hours_per_day=length_h,
            hours_per_week=week,
            model=model,
            stated_for_h=None if weekly else stated_h,
        )
    except ValueError as problem:
        return said(
            "the limit cannot be shortened for a shift of {hours} h by {model} ({problem})",
            hours=f"{length_h:g}",
            model=model,
            problem=problem.args[0],
        )
    named = said("{authority} {kind}", authority=said(limit.authority), kind=said(limit.kind))
    note = said(
        SHORTENED_BY["week" if weekly else "day"],
        stated=listed("", (named, f" {limit.value:g} {display_unit(limit.unit)}")),
        shortened=_shown(shortened),
        hours=f"{week if weekly else length_h:g}",
        model=MODEL_WORDS[model],
    )
    if stated_h is not None and not weekly:
        note += said(", from the {hours} h a day it is stated for", hours=f"{stated_h:g}")
    worked = said("a week of {hours} h", hours=f"{week:g}") if weekly else said("{hours} h", hours=f"{length_h:g}")
    return LimitAsCompared(shortened, note, worked)


def _shown(limit: Figure) -> str:
    return f"{significant(limit.value, 3)} {display_unit(limit.unit)}"
