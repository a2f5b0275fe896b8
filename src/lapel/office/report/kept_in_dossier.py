"""Documents people were given, for a dossier: all in a whole one; for a request, only what names nobody else."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from lapel.documents.wording import LANGUAGES
from lapel.exchange.dossier import KeptFile
from lapel.exchange.dossier.redaction import WITHHELD
from lapel.office.report.keeping import file_name, is_whole
from lapel.records.models import KeptDocument, Survey

LETTERS = ("letter.pdf", "letter.docx")


def kept_numbers(survey: Survey) -> tuple[int, ...]:
    """Which documents were kept so far."""
    return tuple(survey.kept_documents.values_list("pk", flat=True))


def kept_whole(survey: Survey, folder: Path) -> list[KeptFile]:
    """Give every kept document, its bytes in a file of this folder."""
    return [_file(document, folder) for document in _one_by_one(survey)]


def kept_for_request(survey: Survey, folder: Path, worker: str) -> list[KeptFile]:
    """
    Name every kept document, and give the letters to the worker who asks.

    Reports, lists and others' letters hold codes of workers, names and free texts. Who had a document made is withheld,
    and so is a file name with a worker's code in it.
    """
    workers = tuple(survey.site.workers.values_list("code", flat=True))
    theirs = _letters_to(survey, worker, workers)
    kept = []
    for document in _one_by_one(survey):
        if document.file in theirs:
            kept.append(_file(document, folder, by=WITHHELD))
        else:
            name = WITHHELD if any(code in document.file for code in workers) else document.file
            kept.append(_named(document, name=name, by=WITHHELD, withheld=True))
    return kept


def _letters_to(survey: Survey, worker: str, workers: tuple[str, ...]) -> set[str]:
    """File names of the letters to one worker; none where another worker's letter may have the same name."""

    def names(code: str) -> set[str]:
        return {file_name(survey, letter, about=code, language=each) for letter in LETTERS for each in LANGUAGES}

    others: set[str] = set().union(*(names(code) for code in workers if code != worker))
    return names(worker) - others if worker else set()


def _one_by_one(survey: Survey) -> Iterator[KeptDocument]:
    return survey.kept_documents.order_by("pk").iterator(chunk_size=1)


def _file(document: KeptDocument, folder: Path, *, by: str = "") -> KeptFile:
    if not is_whole(document):
        return _named(document, name=document.file, by=by or document.made_by, withheld=False)
    content = folder / f"kept-{document.pk}"
    content.write_bytes(bytes(document.content))
    return KeptFile(
        document.pk, document.file, document.kind, document.sha256, document.input_sha256, document.made_at,
        by or document.made_by, "here", content,
    )  # fmt: skip


def _named(document: KeptDocument, *, name: str, by: str, withheld: bool) -> KeptFile:
    """Give a document without its bytes: withheld, or no longer what its hash says."""
    return KeptFile(
        document.pk, name, document.kind, document.sha256, document.input_sha256, document.made_at, by,
        "withheld" if withheld else "damaged",
    )  # fmt: skip
