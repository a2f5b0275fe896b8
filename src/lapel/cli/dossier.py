"""
Put a survey with everything it rests on into one sealed file.

Raw log, laboratory files, rule books, results and the calculation record, in open formats, with a checksum each. It can
be read without Lapel; `lapel verify` checks it and computes every figure again.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from lapel.cli.exits import DONE, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.exchange.problems import InputProblems
from lapel.reference import UnusableFileError

RECORD = "calculation-record.pdf"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="survey folder")
    parser.add_argument("file", metavar="FILE", type=Path, help="where to write the dossier, such as survey.zip")
    parser.add_argument("--rules", metavar="BOOK", help="decide by this rule book (key or file) instead of its own")
    parser.add_argument("--sign", metavar="KEY", type=Path, help="sign with this key (Ed25519 in PEM)")
    parser.add_argument("--make-key", action="store_true", help="make the key of --sign first; it must not be there")
    parser.add_argument(
        "--for-request", action="store_true", help="replace workers' codes and names, withhold free texts"
    )
    parser.add_argument("--keep-worker", metavar="CODE", default="", help="with --for-request: whose code stays")
    parser.add_argument("--language", choices=("en", "es"), default="en", help="language of the record: en, es")
    parser.add_argument("--no-pdf", action="store_true", help="leave the calculation record out")


def execute(options: argparse.Namespace) -> int:
    """Assess, pack and seal; 2 when nothing was written."""
    from lapel.cli import terminal
    from lapel.exchange.dossier import fingerprint_of_key, public_key_text

    if options.keep_worker and not options.for_request:
        say("--keep-worker goes with --for-request. Nothing was written.")
        return UNUSABLE
    try:
        with _signing_key(options) as key, terminal.progress(False) as told:
            _make(options, key, told)
    except (InputProblems, UnusableFileError) as problems:
        show_faults(problems)
        return UNUSABLE
    except (ValueError, KeyError) as problem:
        say(f"{problem.args[0] if problem.args else problem}. Nothing was written.")
        return UNUSABLE
    out = terminal.output()
    out.print(f"The dossier is in {options.file}.")
    if key is None:
        out.print("It is sealed, not signed: a change shows, but not who made it. --sign KEY signs it.")
    else:
        out.print(f"Signed with the key {fingerprint_of_key(key)}; public key {public_key_text(key)}.")
        out.print("Give the fingerprint to whoever checks it by another way than the file.")
    return DONE


@contextmanager
def _signing_key(options: argparse.Namespace) -> Iterator[bytes | None]:
    """Give the key of --sign; one made for a dossier that is not written goes with it."""
    from lapel.exchange.dossier import make_key_file

    path: Path | None = options.sign
    if path is None:
        if options.make_key:
            raise ValueError("--make-key goes with --sign KEY")
        yield None
        return
    if not options.make_key:
        if not path.is_file():
            raise ValueError(f"there is no key {path}; --make-key makes one")
        yield path.read_bytes()
        return
    try:
        key = make_key_file(path)
    except FileExistsError:
        raise ValueError(f"{path} is there already; a key is never overwritten") from None
    try:
        yield key
    except BaseException:
        path.unlink()
        raise


def _make(options: argparse.Namespace, key: bytes | None, told: Callable[[str, int, int], None] | None) -> None:
    from lapel.cli.assess import assessed
    from lapel.documents.assessment_record import assessment_record
    from lapel.documents.wording import wording
    from lapel.exchange.dossier import write_coded_survey, write_dossier

    house = Path(options.rules).read_text("utf-8") if options.rules and options.rules.endswith(".toml") else ""
    with tempfile.TemporaryDirectory(prefix="lapel-dossier-") as made:
        folder = options.folder
        if options.for_request:
            folder = Path(made) / "survey"
            write_coded_survey(options.folder, folder, keep_worker=options.keep_worker)
        assessment = assessed(folder, options.rules, told)
        words = wording(options.language)
        write_dossier(
            assessment,
            folder,
            options.file,
            documents={} if options.no_pdf else {RECORD: assessment_record(assessment, words, progress=told)},
            variant="coded for a request" if options.for_request else "whole",
            signing_key=key,
            house_book=house,
            progress=told,
        )
