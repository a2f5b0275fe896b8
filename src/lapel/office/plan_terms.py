"""The terms of a survey's plan, as they are kept or as a new plan would begin."""

from __future__ import annotations

import secrets

from lapel.records.models import PlanTerms, Survey


def terms_of(survey: Survey) -> PlanTerms:
    """Return the terms of a survey's plan; those of a new plan, not kept yet, where it has none."""
    return PlanTerms.objects.filter(survey=survey).first() or new_terms(survey)


def new_terms(survey: Survey) -> PlanTerms:
    """Return the terms a new plan begins with; the seed of its draw is chosen by chance, before anything is drawn."""
    prefix = "".join(sign for sign in survey.code.upper() if sign.isalnum())[:6] or "S"
    return PlanTerms(survey=survey, seed=f"{survey.code} {secrets.token_hex(4)}", label_prefix=prefix)
