"""Making a dossier: everything in it, listed, sealed, and read back before it takes its name."""

from __future__ import annotations

import hashlib
import json
import shutil
import tomllib
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from importlib.resources import files
from io import StringIO
from pathlib import Path
from typing import Any

from lapel import __version__
from lapel.assessment.results import SurveyAssessment
from lapel.exchange.assessment_json import write_assessment_json
from lapel.exchange.dossier import layout
from lapel.exchange.dossier.kept import KEPT_LIST, KEPT_SCHEMA, KeptFile, kept_contents, kept_schema
from lapel.exchange.dossier.seal import length_of_seal, sealed
from lapel.exchange.open_data import samples_table, verdicts_table
from lapel.exchange.survey_folder.folder import read_survey
from lapel.exchange.survey_folder.schemas import schema_names, schema_of
from lapel.hygiene.rulebook import RuleBook

_EPOCH = (1980, 1, 1, 0, 0, 0)  # the first instant a zip can state: the same content gives the same bytes
Progress = Callable[[str, int, int], None]


class DossierTooLarge(ValueError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A dossier would hold more than is read again; the message says what and how much."""


def write_dossier(
    assessment: SurveyAssessment,
    folder: str | Path,
    path: str | Path,
    *,
    documents: Mapping[str, bytes] | None = None,
    more: Mapping[str, tuple[bytes, str]] | None = None,
    kept: Sequence[KeptFile] | None = None,
    variant: layout.Variant = "whole",
    signing_key: bytes | None = None,
    made_at: datetime | None = None,
    house_book: str = "",
    progress: Progress | None = None,
) -> None:
    """
    Write a dossier.

    Parameters
    ----------
    assessment : SurveyAssessment
        What was computed from the folder.
    folder : str or Path
        The survey folder it was computed from; all of its visible files go in, byte for byte.
    path : str or Path
        Where; a file there is replaced only once the new one is whole.
    documents : mapping of str to bytes, optional
        Documents for people by file name, such as ``calculation-record.pdf``.
    more : mapping of str to (bytes, str), optional
        Other files by their path in the dossier, with what each is in words: signatures, notifications.
    kept : sequence of KeptFile, optional
        Documents people were given; none where there is no register of them, as beside a folder.
    variant : str
        Whether it is whole or made for a request.
    signing_key : bytes, optional
        Ed25519 key in PEM; without it the seal shows accidents but not who made it.
    made_at : datetime, optional
        Instant stated in it; now, if left out.
    house_book : str
        Text of the rule book's file where the house's own decided.
    progress : callable, optional
        Told what is being done.

    Raises
    ------
    ValueError
        The folder was changed since it was assessed, or the signing key is none.
    DossierTooLarge
        It would hold more than is read again.
    OSError
        A file cannot be read, or the dossier cannot be written; what stood there stands.
    """
    tell = progress or (lambda what, done, total: None)
    target, root = Path(path), Path(folder)
    tell("gathering the files", 0, 0)
    _refuse_changed(assessment, root)
    contents = dict(_everything(assessment, root, documents or {}, more or {}, variant, house_book))
    contents.update(kept_contents(kept) if kept is not None else ())
    rows = [layout.manifest_row(name, content, words) for name, (content, words) in contents.items()]
    _refuse_too_large(rows)
    manifest = _manifest(assessment, rows, variant, made_at or datetime.now(UTC), kept)
    partial = target.with_name(f".{target.name}.part")
    try:
        tell("packing", 0, 0)
        _pack(partial, [(layout.MANIFEST, manifest), *((name, content) for name, (content, _) in contents.items())])
        tell("sealing", 0, 0)
        _close_with_seal(partial, signing_key)
        partial.replace(target)
    finally:
        partial.unlink(missing_ok=True)


def _refuse_changed(assessment: SurveyAssessment, root: Path) -> None:
    if read_survey(root).input_sha256 != assessment.survey.input_sha256:
        raise ValueError(f"{root} was changed since it was assessed; assess it again")


def _refuse_too_large(rows: Sequence[Mapping[str, Any]]) -> None:
    """Make nothing that would not be opened again."""
    size, largest = sum(row["bytes"] for row in rows), max(rows, key=lambda row: row["bytes"])
    if len(rows) >= layout.MOST_FILES:
        raise DossierTooLarge(f"the dossier would hold {len(rows)} files; at most {layout.MOST_FILES} are read again")
    if largest["bytes"] > layout.LARGEST_FILE:
        found = f"{largest['path']} has {largest['bytes']} bytes"
        raise DossierTooLarge(f"{found}; at most {layout.LARGEST_FILE} are read again")
    if size > layout.LARGEST_DOSSIER:
        raise DossierTooLarge(f"the dossier would hold {size} bytes; at most {layout.LARGEST_DOSSIER} are read again")


def _everything(
    assessment: SurveyAssessment,
    root: Path,
    documents: Mapping[str, bytes],
    more: Mapping[str, tuple[bytes, str]],
    variant: layout.Variant,
    house_book: str,
) -> Iterator[tuple[str, tuple[bytes | Path, str]]]:
    readme = layout.README_TEXT.format(title=assessment.survey.title, variant=layout.VARIANT_WORDS[variant])
    yield layout.README, (readme.encode(), "what this is and how to read it")
    for file in sorted(root.rglob("*")):
        inside = file.relative_to(root)
        if file.is_file() and not any(part.startswith((".", "~")) for part in inside.parts):
            yield layout.INPUTS + inside.as_posix(), (file.read_bytes(), "input")
    for name, book, title in _rule_books(assessment, house_book):
        yield f"{layout.RULE_BOOKS}{name}", (book.encode(), f"rule book: {title}")
    text = StringIO()
    write_assessment_json(assessment, text)
    yield layout.ASSESSMENT, (text.getvalue().encode(), "everything computed, unrounded")
    yield layout.SAMPLES, (samples_table(assessment).encode(), "every sample and agent")
    yield layout.VERDICTS, (verdicts_table(assessment).encode(), "every comparison with a limit")
    for name, content in documents.items():
        yield layout.DOCUMENTS + name, (content, "document")
    for name, part in schema_names().items():
        schema = json.dumps(schema_of(part), ensure_ascii=False, indent=1)
        yield f"{layout.SCHEMAS}{name}", (schema.encode(), "JSON Schema of an input")
    schema = json.dumps(kept_schema(), ensure_ascii=False, indent=1)
    yield f"{layout.SCHEMAS}{KEPT_SCHEMA}", (schema.encode(), "JSON Schema of the list of documents people were given")
    yield from more.items()


def _rule_books(assessment: SurveyAssessment, house_book: str) -> Iterator[tuple[str, str, str]]:
    """Files of the books that were used and, after them, of those they are based on; the deciding one comes first."""
    decided = assessment.rule_book
    wanted = [(decided.key, house_book), *((book.key, "") for book in assessment.compared)]
    given: set[str] = set()
    while wanted:
        key, own_text = wanted.pop(0)
        if key in given:
            continue
        given.add(key)
        text = own_text or (files("lapel.reference") / "rulebooks" / f"{key}.toml").read_text("utf-8")
        document = tomllib.loads(text)
        yield f"{key}.toml", text, document["title"]
        if "based_on" in document:
            wanted.append((document["based_on"], ""))


def _rule_book_file(book: RuleBook) -> str:
    return f"{layout.RULE_BOOKS}{book.key}.toml"


def _manifest(
    assessment: SurveyAssessment,
    rows: Sequence[Mapping[str, Any]],
    variant: layout.Variant,
    made_at: datetime,
    kept: Sequence[KeptFile] | None,
) -> bytes:
    data: dict[str, Any] = {
        "format": layout.FORMAT,
        "format_version": layout.FORMAT_VERSION,
        "variant": variant,
        "survey": assessment.survey.title,
        "assessed_on": assessment.survey.assessed_on.isoformat(),
        "made_at": made_at.isoformat(),
        "made_by": f"lapel {__version__}",
        "kernel_version": assessment.kernel_version,
        "input_sha256": assessment.survey.input_sha256,
        "rule_book": {"key": assessment.rule_book.key, "file": _rule_book_file(assessment.rule_book)},
        "compared_rule_books": [{"key": book.key, "file": _rule_book_file(book)} for book in assessment.compared],
        **({} if kept is None else {"kept_documents": {"file": KEPT_LIST, "count": len(kept)}}),
        "files": rows,
    }
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()


def _pack(path: Path, contents: Iterable[tuple[str, bytes | Path]]) -> None:
    """Pack; what lies on disk is compressed in itself (PDF, DOCX, zip) and goes in as it is, a part at a time."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for name, content in contents:
            entry = zipfile.ZipInfo(name, _EPOCH)
            entry.external_attr = 0o644 << 16
            if isinstance(content, bytes):
                entry.compress_type = zipfile.ZIP_DEFLATED
                packed.writestr(entry, content)
                continue
            entry.file_size = content.stat().st_size
            with content.open("rb") as source, packed.open(entry, "w") as target:
                shutil.copyfileobj(source, target, 1 << 20)


def _close_with_seal(path: Path, signing_key: bytes | None) -> None:
    """Put the seal into the zip's comment: its length first, because the hash covers the field that states it."""
    with zipfile.ZipFile(path, "a") as packed:
        packed.comment = b" " * length_of_seal(signing_key)
    size = path.stat().st_size - length_of_seal(signing_key)
    digest = hashlib.sha256()
    with path.open("r+b") as file:
        left = size
        while left:
            part = file.read(min(1 << 20, left))
            digest.update(part)
            left -= len(part)
        file.seek(size)
        file.write(sealed(digest.hexdigest(), signing_key).text())
        file.flush()
