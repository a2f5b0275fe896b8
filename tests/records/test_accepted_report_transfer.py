"""A folder with a report that was read and accepted goes into the records and out again with the same figures."""

import hashlib
import json
import shutil
import tomllib
import zipfile
from pathlib import Path

import pytest
from folders import EXAMPLES, copied, without_places

from lapel.assessment.recorded_survey import recorded_survey
from lapel.assessment.survey import assess
from lapel.cli.main import main
from lapel.exchange import read_survey
from lapel.exchange.assessment_json import assessment_as_data
from lapel.exchange.dossier import write_dossier
from lapel.exchange.problems import InputProblems
from lapel.exchange.record_export import export_survey
from lapel.exchange.record_transfer import import_survey
from lapel.records.models import Survey

ANSWERS = (
    "report.code=AB-26-1187", "laboratory=Alder Bay laboratory (invented)", "report.received_on=2026-05-04",
    "report.samples_received_on=2026-04-22", "report.receipt_temperature=5", "report.receipt_temperature_unit=°C",
    "recovery_corrected_by=laboratory", "blank_corrected_by=nobody",
)  # fmt: skip


def figures(survey):
    return without_places(assessment_as_data(assess(survey)))


def test_an_accepted_report_survives_the_records(fresh_sqlite, tmp_path):
    folder = copied("small", tmp_path)
    shutil.rmtree(folder / "laboratory")
    words = [word for answer in ANSWERS for word in ("--answer", answer)]
    file = EXAMPLES / "small/laboratory/AB-26-1187.csv"
    assert main(["results", str(folder), str(file), *words, "--accept", "--quiet"]) == 0
    wanted = figures(read_survey(folder))
    record = import_survey(folder).survey
    assert figures(recorded_survey(record)) == wanted
    written = export_survey(record, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    assert figures(read_survey(tmp_path / "out")) == wanted


def accepted_twice(tmp_path):
    """A folder whose report was accepted, and then its amended version."""
    folder = copied("small", tmp_path)
    shutil.rmtree(folder / "laboratory")
    words = [word for answer in ANSWERS for word in ("--answer", answer)]
    first = (EXAMPLES / "small/laboratory/AB-26-1187.csv").read_bytes()
    versions = [first, first.replace(b",1520,", b",1620,")]
    for number, content in enumerate(versions, start=1):
        file = tmp_path / f"sent-{number}" / "AB-26-1187.csv"
        file.parent.mkdir()
        file.write_bytes(content)
        assert main(["results", str(folder), str(file), *words, "--accept", "--quiet"]) in (0, 1)
    return folder, versions


def test_the_originals_of_all_versions_survive_the_records(fresh_sqlite, tmp_path):
    folder, versions = accepted_twice(tmp_path)
    record = import_survey(folder).survey
    written = export_survey(record, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    there, back = (
        {path.relative_to(root): path.read_bytes() for path in root.rglob("*") if path.is_file()}
        for root in (folder / "laboratory/as-delivered", tmp_path / "out/laboratory/as-delivered")
    )
    assert back == there
    assert back[Path("AB-26-1187/AB-26-1187.csv")] == versions[1]
    assert back[Path("AB-26-1187/version-1/AB-26-1187.csv")] == versions[0]


def test_they_survive_a_result_corrected_in_the_records_too(fresh_sqlite, tmp_path):
    folder, versions = accepted_twice(tmp_path)
    record = import_survey(folder).survey
    result = record.results.filter(front_below=False).first()
    result.front_ug += 1.0
    result.save()
    written = export_survey(record, tmp_path / "out")
    assert written.is_whole, (written.problems, written.differences)
    (beside,) = (tmp_path / "out/laboratory/as-delivered").iterdir()
    kept = [path.read_bytes() for path in beside.rglob("*.csv")]
    assert all(content in kept for content in versions)
    document = tomllib.loads((tmp_path / "out/laboratory/AB-26-1187.toml").read_text("utf-8"))
    assert (tmp_path / "out/laboratory" / document["as_delivered"]).read_bytes() == versions[1]


def test_the_dossier_lists_every_original_with_its_hash(fresh_sqlite, tmp_path):
    folder, versions = accepted_twice(tmp_path)
    export_survey(import_survey(folder).survey, tmp_path / "out")
    write_dossier(assess(read_survey(tmp_path / "out")), tmp_path / "out", tmp_path / "d.zip")
    with zipfile.ZipFile(tmp_path / "d.zip") as packed:
        rows = json.loads(packed.read("manifest.json"))["files"]
    hashes = {row["path"]: row["sha256"] for row in rows}
    for place, content in (("", versions[1]), ("version-1/", versions[0])):
        path = f"inputs/laboratory/as-delivered/AB-26-1187/{place}AB-26-1187.csv"
        assert hashes[path] == hashlib.sha256(content).hexdigest()


def test_an_original_that_was_taken_away_or_changed_is_a_fault(tmp_path):
    folder, _ = accepted_twice(tmp_path)
    earlier = folder / "laboratory/as-delivered/AB-26-1187/version-1/AB-26-1187.csv"
    content = earlier.read_bytes()
    earlier.write_bytes(content + b"\n")
    with pytest.raises(InputProblems, match="no longer the one that was taken over"):
        read_survey(folder)
    earlier.unlink()
    with pytest.raises(InputProblems, match="no such file"):
        read_survey(folder)


def a_link(beside, outside):
    outside.write_text("a secret of the machine")
    (beside / "version-1/note.txt").symlink_to(outside)


def a_linked_folder(beside, outside):
    beside.rename(outside)
    beside.symlink_to(outside)


def a_large_file(beside, outside):
    with (beside / "version-1/scan.pdf").open("wb") as file:
        file.truncate(25_000_001)


def a_deep_folder(beside, outside):
    deep = beside.joinpath("version-1", *["folder-of-a-folder"] * 16)
    deep.mkdir(parents=True)
    (deep / "note.txt").write_text("x")


@pytest.mark.parametrize(
    ("put_there", "words"),
    [
        (a_link, "is a link"),
        (a_linked_folder, "is a link"),
        (a_large_file, "larger than 25 MB"),
        (a_deep_folder, "at most 300 are kept"),
    ],
)
def test_what_cannot_be_kept_beside_a_report_is_said_and_nothing_is_taken(fresh_sqlite, tmp_path, put_there, words):
    folder, _ = accepted_twice(tmp_path)
    (beside,) = (folder / "laboratory/as-delivered").iterdir()
    put_there(beside, tmp_path / "outside.txt")
    with pytest.raises(InputProblems, match=words):
        import_survey(folder)
    assert not Survey.objects.exists()
