"""
Signing what a survey says: a snapshot with its hash, and what moved since.

A signature speaks of the figures as they were. When inputs change, nothing of it is altered: it is shown as outdated,
with every figure and verdict that is no longer what was signed.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, TypeAlias

from django.contrib.auth.models import User
from django.utils import timezone

from lapel.assessment.results import SurveyAssessment
from lapel.exchange.assessment_json import assessment_as_data
from lapel.exchange.differences import Differences
from lapel.records.models import Signature, Survey

SigningRole: TypeAlias = Literal["author", "reviewer"]

STATEMENTS: dict[SigningRole, str] = {
    "author": (
        "I have assessed these samples by the rules named, and what this survey says is, to my knowledge, true and "
        "complete, within the limits it states."
    ),
    "reviewer": (
        "I have reviewed the inputs, the working behind the figures I chose to check, the findings and the verdicts. "
        "My comments are answered."
    ),
}
"""What a person puts their name to."""


class NotSigned(ValueError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A signature is refused; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class SignatureStanding:
    """
    Whether a signature speaks of what the survey says now.

    Attributes
    ----------
    inputs_same : bool
        Whether not a single input changed.
    figures : tuple of str
        Every figure, verdict or code that is not what was signed.
    words : tuple of str
        Sentences that read otherwise.
    whole : bool
        Whether the snapshot is what its hash says.
    """

    inputs_same: bool
    figures: tuple[str, ...]
    words: tuple[str, ...]
    whole: bool = True

    @property
    def holds(self) -> bool:
        """Whether nothing that was signed is otherwise now."""
        return self.whole and self.inputs_same and not self.figures and not self.words

    @property
    def figures_hold(self) -> bool:
        """Whether inputs changed and no figure or verdict moved."""
        return self.whole and not self.figures


def sign(survey: Survey, assessment: SurveyAssessment, *, person: User, role: SigningRole) -> Signature:
    """
    Put a person's name under what a survey says now.

    Parameters
    ----------
    survey : Survey
        The record; whoever calls has checked that the person may sign in this role, and that it is them.
    assessment : SurveyAssessment
        What it says now.
    person : User
        Who signs.
    role : str
        As author or as reviewer.

    Raises
    ------
    NotSigned
        A reviewer was the author of the same; nobody has signed as author what is to be reviewed; comments are open.
    """
    content = _data(assessment)
    digest = hashlib.sha256(content).hexdigest()
    now = list(survey.signatures.filter(input_sha256=assessment.survey.input_sha256).defer("snapshot"))
    if role == "reviewer":
        authors = [signature for signature in now if signature.role == "author"]
        if not authors:
            raise NotSigned("Nobody has signed this as author yet. A review is of what somebody put their name to.")
        if any(signature.person == person.get_username() for signature in authors):
            raise NotSigned("You signed this as author. A review takes a second pair of eyes.")
        open_comments = survey.review_comments.filter(answered_at=None).count()
        if open_comments:
            raise NotSigned(f"{open_comments} of your comments are not answered yet. Answer or settle them first.")
    return Signature.objects.create(
        survey=survey,
        role=role,
        person=person.get_username(),
        name=person.get_full_name(),
        statement=STATEMENTS[role],
        signed_at=timezone.now(),
        kernel_version=assessment.kernel_version,
        input_sha256=assessment.survey.input_sha256,
        sha256=digest,
        snapshot=zlib.compress(content, 6),
    )


def standing_of(signature: Signature, assessment: SurveyAssessment) -> SignatureStanding:
    """Hold a signature against what the survey says now."""
    content = zlib.decompress(bytes(signature.snapshot))
    whole = hashlib.sha256(content).hexdigest() == signature.sha256
    same = signature.input_sha256 == assessment.survey.input_sha256
    if whole and same and content == _data(assessment):
        return SignatureStanding(True, (), ())
    found = Differences(names=("signed", "now"))
    found.compare("", json.loads(content), json.loads(_data(assessment)))
    return SignatureStanding(same, tuple(found.figures), tuple(found.words), whole)


def signature_as_data(signature: Signature) -> dict[str, Any]:
    """A signature without its snapshot, for a dossier."""
    at: datetime = signature.signed_at
    return {
        "role": signature.role,
        "person": signature.person,
        "name": signature.name,
        "statement": signature.statement,
        "signed_at": at.isoformat(),
        "kernel_version": signature.kernel_version,
        "input_sha256": signature.input_sha256,
        "assessment_sha256": signature.sha256,
    }


def _data(assessment: SurveyAssessment) -> bytes:
    return json.dumps(assessment_as_data(assessment), ensure_ascii=False, sort_keys=True, allow_nan=False).encode()
