"""Is a dossier as it was sealed, and do its figures follow from its inputs?"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lapel import __version__
from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.exchange.assessment_json import assessment_head, assessment_lists
from lapel.exchange.differences import Differences
from lapel.exchange.dossier import layout
from lapel.exchange.dossier.kept import KEPT_LIST, kept_found
from lapel.exchange.dossier.opened import NoDossier, Opened, opened
from lapel.exchange.dossier.seal import Unsealed, fingerprint, read_seal
from lapel.exchange.open_data import samples_table, verdicts_table
from lapel.exchange.problems import InputProblems
from lapel.exchange.survey_folder.folder import read_survey
from lapel.reference import UnusableFileError, rule_book_from

MOST_NAMED = 20

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was checked; `holds` is None where it could not be or need not be."""

    what: str
    holds: bool | None
    words: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Verification:
    """
    Everything that was checked of a dossier.

    Attributes
    ----------
    survey : str
        Its title, as stated; empty where nothing could be read.
    checks : tuple of Check
        In the order in which they were made.
    figures : int
        How many numbers were computed again.
    """

    survey: str
    checks: tuple[Check, ...]
    figures: int = 0

    @property
    def holds(self) -> bool:
        """Whether nothing that was checked failed, and the figures were."""
        return bool(self.checks) and all(check.holds is not False for check in self.checks)

    def as_data(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "survey": self.survey,
            "holds": self.holds,
            "figures_compared": self.figures,
            "checks": [
                {"what": c.what, "holds": c.holds, "words": c.words, "details": list(c.details)} for c in self.checks
            ],
        }


def verify_dossier(
    path: str | Path, *, trusted_key: str = "", recompute: bool = True, progress: Progress | None = None
) -> Verification:
    """
    Check a dossier.

    Parameters
    ----------
    path : str or Path
        The file.
    trusted_key : str
        Public key (hexadecimal) the signature must be of; any, if left out.
    recompute : bool
        Whether every figure is computed again from the inputs.
    progress : callable, optional
        Told what is being done.

    Returns
    -------
    Verification
        Failures are part of it: nothing is raised for a dossier that is broken, hostile or none at all.
    """
    tell = progress or (lambda what, done, total: None)
    checks: list[Check] = []
    survey, figures = "", 0
    try:
        with opened(Path(path)) as dossier:
            survey = str(dossier.manifest["survey"])
            tell("checking the seal", 0, 0)
            checks += _seal(Path(path), dossier, trusted_key)
            tell("checking the files", 0, 0)
            checks.append(_files(dossier))
            checks += _kept(dossier)
            if recompute:
                made, figures = _computed_again(dossier, tell)
                checks += made
    except NoDossier as problem:
        checks.append(Check("A dossier that can be read", False, f"{problem}."))
    return Verification(survey, tuple(checks), figures)


def _seal(path: Path, dossier: Opened, trusted_key: str) -> list[Check]:
    try:
        seal, found = read_seal(path, dossier.comment)
    except Unsealed as problem:
        return [Check("Seal", False, f"Nothing shows that it is as it was made: {problem}.")]
    if seal.sha256 != found:
        return [Check("Seal", False, "At least one byte was changed since it was sealed.")]
    checks = [Check("Seal", True, "No byte was changed since it was sealed.")]
    if not seal.public_key:
        words = "It is not signed: whoever changes it can seal it anew."
        return [*checks, Check("Signature", False if trusted_key else None, words)]
    if not seal.signature_holds():
        return [*checks, Check("Signature", False, "The signature was not made over this file with the key it names.")]
    if trusted_key and trusted_key.strip().lower() != seal.public_key:
        words = f"It is signed with the key {seal.fingerprint}, not with {fingerprint(trusted_key.strip().lower())}."
        return [*checks, Check("Signature", False, words)]
    words = f"Signed with the key {seal.fingerprint}."
    if not trusted_key:
        words += " Compare it with the fingerprint its maker gave you by another way."
    return [*checks, Check("Signature", True, words)]


def _files(dossier: Opened) -> Check:
    faults = list(dossier.faults())
    if faults:
        return Check("Files", False, f"{len(faults)} files are not as listed.", tuple(faults[:MOST_NAMED]))
    return Check("Files", True, f"All {len(dossier.listed)} files are as listed.")


def _kept(dossier: Opened) -> list[Check]:
    """Hold documents people were given against the hashes they were kept with; a dossier of a folder has none."""
    stated = dossier.manifest.get("kept_documents")
    if stated is None:
        return []
    what = "Documents people were given"
    try:
        found = kept_found(dossier.text(KEPT_LIST), dossier.listed, stated=int(stated["count"]))
    except (ValueError, TypeError, KeyError) as problem:
        return [Check(what, False, f"They cannot be checked: {problem}.")]
    if found.faults:
        named = tuple(found.faults[:MOST_NAMED])
        return [Check(what, False, f"{len(found.faults)} are not as they were kept.", named)]
    words = f"{len(found.inputs)} {'is' if len(found.inputs) == 1 else 'are'} byte for byte as kept"
    earlier = sum(inputs != dossier.manifest["input_sha256"] for inputs in found.inputs)
    if earlier and dossier.manifest["variant"] == "whole":
        words += f"; {earlier} of them made from other inputs than these"
    words += f"; {found.withheld} left out, as is done for a request" if found.withheld else ""
    return [Check(what, True, f"{words}.")]


def _computed_again(dossier: Opened, tell: Progress) -> tuple[list[Check], int]:
    try:
        stated = json.loads(dossier.text(layout.ASSESSMENT))
    except ValueError as problem:
        return [Check("Figures", False, f"{layout.ASSESSMENT} is no JSON ({problem}).")], 0
    with tempfile.TemporaryDirectory(prefix="lapel-dossier-") as made:
        root = Path(made)
        dossier.unpack(layout.INPUTS, root / "inputs")
        dossier.unpack(layout.RULE_BOOKS, root / "books")
        try:
            books = [
                rule_book_from(root / "books" / Path(row["file"]).name, base_beside=True)
                for row in (dossier.manifest["rule_book"], *dossier.manifest["compared_rule_books"])
            ]
            survey = read_survey(root / "inputs", progress=lambda words: tell(words, 0, 0))
        except (InputProblems, UnusableFileError) as problem:
            faults = str(problem).splitlines()
            return [Check("Inputs", False, "The inputs cannot be used.", tuple(faults[:MOST_NAMED]))], 0
    inputs = _inputs(survey.input_sha256, stated, dossier)
    again = assess(survey, book=books[0], compared=books[1:], progress=tell)
    tell("comparing the figures", 0, 0)
    differences = _compared(stated, again)
    checks = [inputs, _figures(differences), _words(differences, stated)]
    same_kernel = stated.get("kernel_version") == __version__
    for name, made_again in ((layout.SAMPLES, samples_table(again)), (layout.VERDICTS, verdicts_table(again))):
        same = dossier.text(name) == made_again
        words = "as computed again" if same else "not what is computed again"
        checks.append(Check(f"Table {name}", same if same or same_kernel else None, f"{words}."))
    return checks, differences.count


def _inputs(found: str, stated: Any, dossier: Opened) -> Check:
    of_results = stated.get("input_sha256") if isinstance(stated, dict) else None
    if found == of_results == dossier.manifest["input_sha256"]:
        return Check("Inputs", True, "The inputs are those the results were computed from.")
    return Check("Inputs", False, "The inputs are not those the results were computed from.")


def _compared(stated: Any, again: SurveyAssessment) -> Differences:
    """Compare list by list, a row at a time; what was compared is let go of."""
    differences = Differences()
    left = dict(stated) if isinstance(stated, dict) else {}
    for name, rows in assessment_lists(again):
        before = left.pop(name, None)
        there = before if isinstance(before, list) else []
        made = 0
        for made, row in enumerate(rows, start=1):
            differences.compare(f"{name} {made}", there[made - 1] if made <= len(there) else None, row)
            if made <= len(there):
                there[made - 1] = None
        if made != len(there):
            differences.figures.append(f"{name}: {len(there)} stated, {made} computed")
    differences.compare("", left, assessment_head(again))
    return differences


def _figures(found: Differences) -> Check:
    if found.figures:
        named = tuple(found.figures[:MOST_NAMED])
        return Check("Figures", False, f"{len(found.figures)} do not agree; {found.count} were compared.", named)
    exactly = "to the last digit" if found.largest == 0.0 else f"within {found.largest:.0e} of themselves"
    return Check("Figures", True, f"All {found.count} figures computed again agree, {exactly}; so do the verdicts.")


def _words(found: Differences, stated: Any) -> Check:
    """Say whether the sentences agree; another version of Lapel may put things otherwise."""
    if not found.words:
        return Check("Words", True, "Findings and reasons read the same.")
    version = stated.get("kernel_version") if isinstance(stated, dict) else None
    same = version == __version__
    made = "this version wrote them otherwise" if same else f"they were written by version {version}"
    words = f"{len(found.words)} sentences read otherwise ({made})."
    return Check("Words", False if same else None, words, tuple(found.words[:MOST_NAMED]))
