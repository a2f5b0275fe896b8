"""Lifting a finding and putting it back: the one door, with person, reason and history."""

from __future__ import annotations

from django.contrib.auth.models import User

from lapel.records.audit import signed
from lapel.records.models import FindingOverride, Survey


def lift_finding(survey: Survey, *, sampler: str, rule: str, by: User, reason: str) -> FindingOverride:
    """
    Record that a finding does not have its usual effect on a sampler, whatever the agent.

    A second word on the same finding takes the place of the first, which stays in the history.
    """
    override = survey.overrides.filter(sampler=sampler, rule=rule).first()
    override = override or FindingOverride(survey=survey, sampler=sampler, rule=rule)
    override.person, override.reason, override.origin = by.get_username(), reason, ""
    signed(override, by, "finding lifted").save()
    return override


def restore_finding(override: FindingOverride, *, by: User, reason: str) -> None:
    """Let a finding count again; that it was lifted, by whom and why, stays in the history."""
    signed(override, by, reason).delete()
