"""A dossier holds all it rests on; no byte and no value of it changes unseen."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import random
import shutil
import zipfile
from pathlib import Path

import jsonschema
import pytest

from lapel.assessment.survey import assess
from lapel.cli.main import main
from lapel.exchange.dossier import (
    KEPT_LIST,
    Check,
    DossierTooLarge,
    KeptFile,
    layout,
    new_key,
    public_key_text,
    redacted,
    verify_dossier,
    write_dossier,
)  # fmt: skip
from lapel.exchange.dossier.writer import _close_with_seal, _pack
from lapel.exchange.survey_folder import read_survey
from lapel.exchange.survey_folder.writer import write_survey

EXAMPLES = Path(__file__).parents[2] / "examples"
KEY = new_key()


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("dossier") / "small.zip"
    write_dossier(assess(read_survey(EXAMPLES / "small")), EXAMPLES / "small", path, signing_key=KEY)
    return path


def contents(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def forged(path: Path, changes: dict[str, bytes], target: Path) -> Path:
    """Change files of a dossier and make its list and seal anew, as somebody who knows how would."""
    files = contents(path) | changes
    manifest = json.loads(files["manifest.json"])
    for row in manifest["files"]:
        row["sha256"] = hashlib.sha256(files[row["path"]]).hexdigest()
    files["manifest.json"] = json.dumps(manifest, ensure_ascii=False).encode()
    _pack(target, files.items())
    _close_with_seal(target, None)
    return target


@pytest.mark.parametrize("example", ["small", "hard"])
def test_every_figure_of_a_dossier_is_computed_again_from_what_is_in_it(example: str, tmp_path: Path) -> None:
    path = tmp_path / "d.zip"
    write_dossier(assess(read_survey(EXAMPLES / example)), EXAMPLES / example, path, signing_key=KEY)
    found = verify_dossier(path, trusted_key=public_key_text(KEY))
    assert found.holds, found.checks
    assert all(check.holds for check in found.checks)
    assert found.figures > 500


def test_the_same_survey_gives_the_same_bytes(tmp_path: Path) -> None:
    assessed = assess(read_survey(EXAMPLES / "small"))
    for name in ("a.zip", "b.zip"):
        made_at = assessed.survey.entries[0].at
        write_dossier(assessed, EXAMPLES / "small", tmp_path / name, made_at=made_at)
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_no_byte_changes_unseen(small: Path, tmp_path: Path) -> None:
    whole = small.read_bytes()
    drawn = random.Random(7)
    places = {*range(300), *range(len(whole) - 700, len(whole)), *drawn.sample(range(len(whole)), 1200)}
    changed = tmp_path / "changed.zip"
    for place in sorted(places):
        other = bytearray(whole)
        other[place] ^= 1 << drawn.randrange(8)
        changed.write_bytes(other)
        assert not verify_dossier(changed, recompute=False).holds, f"byte {place}"


@pytest.mark.parametrize("how", ["cut", "longer", "empty", "no zip"])
def test_a_broken_file_is_said_to_be_broken(how: str, small: Path, tmp_path: Path) -> None:
    whole = small.read_bytes()
    broken = {"cut": whole[:-1], "longer": whole + b"\n", "empty": b"", "no zip": b"a,b\n1,2\n"}[how]
    path = tmp_path / "broken.zip"
    path.write_bytes(broken)
    found = verify_dossier(path)
    assert not found.holds
    assert any(check.holds is False for check in found.checks)


def test_a_path_that_leads_out_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "out.zip"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("../../out.txt", "x")
    found = verify_dossier(path)
    assert "leads out" in found.checks[0].words


def cells(files: dict[str, bytes]) -> list[tuple[str, int, int]]:
    """One filled cell of every column of every table of the inputs."""
    drawn = random.Random(11)
    found = []
    for name, content in files.items():
        if name.startswith("inputs/") and name.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(content.decode())))
            for column in range(len(rows[0])):
                filled = [n for n, row in enumerate(rows[1:], 1) if column < len(row) and row[column]]
                if filled:
                    found.append((name, drawn.choice(filled), column))
    return found


def test_no_input_value_is_altered_unseen_even_when_list_and_seal_are_made_anew(small: Path, tmp_path: Path) -> None:
    files = contents(small)
    places = cells(files)
    assert len(places) > 100
    for name, row, column in random.Random(3).sample(places, 40):
        rows = list(csv.reader(io.StringIO(files[name].decode())))
        value = rows[row][column]
        rows[row][column] = f"{value[:-1]}{'7' if value[-1] != '7' else '8'}"
        text = io.StringIO(newline="")
        csv.writer(text, lineterminator="\n").writerows(rows)
        path = forged(small, {name: text.getvalue().encode()}, tmp_path / "forged.zip")
        assert not verify_dossier(path).holds, (name, row, column)


def test_an_altered_result_does_not_agree_with_what_is_computed_again(small: Path, tmp_path: Path) -> None:
    stated = json.loads(contents(small)["results/assessment.json"])
    stated["samples"][0]["concentration"]["value"] *= 1.00001
    stated["shifts"][0]["verdicts"][0]["verdict"] = "over"
    path = forged(small, {"results/assessment.json": json.dumps(stated).encode()}, tmp_path / "forged.zip")
    failed = {check.what: check for check in verify_dossier(path).checks if check.holds is False}
    assert set(failed) == {"Figures"}
    assert len(failed["Figures"].details) == 2


def test_an_altered_table_is_found(small: Path, tmp_path: Path) -> None:
    table = contents(small)["results/samples.csv"].replace(b"sound", b"soundd", 1)
    path = forged(small, {"results/samples.csv": table}, tmp_path / "forged.zip")
    assert [check.what for check in verify_dossier(path).checks if check.holds is False] == [
        "Table results/samples.csv"
    ]


def test_a_rule_book_of_the_dossier_is_used_and_not_todays(tmp_path: Path) -> None:
    """What is void no more by the dossier's own books changes what is computed again."""
    hard = tmp_path / "hard.zip"
    write_dossier(assess(read_survey(EXAMPLES / "hard")), EXAMPLES / "hard", hard)
    files = contents(hard)
    books = {name: text for name, text in files.items() if name.startswith("rule-books/")}
    loosened = {name: text.replace(b'effect = "void"', b'effect = "qualified"') for name, text in books.items()}
    assert loosened != books
    failed = [c.what for c in verify_dossier(forged(hard, loosened, tmp_path / "f.zip")).checks if c.holds is False]
    assert "Figures" in failed


def test_another_key_is_not_trusted(small: Path) -> None:
    found = verify_dossier(small, trusted_key=public_key_text(new_key()), recompute=False)
    assert [check.what for check in found.checks if check.holds is False] == ["Signature"]


def test_a_folder_changed_after_it_was_assessed_is_not_packed(tmp_path: Path) -> None:
    folder = tmp_path / "survey"
    shutil.copytree(EXAMPLES / "small", folder)
    assessed = assess(read_survey(folder))
    document = folder / "survey.toml"
    document.write_text(document.read_text("utf-8").replace("title = ", "title = 'x'\n# "), "utf-8")
    with pytest.raises(ValueError, match="changed since"):
        write_dossier(assessed, folder, tmp_path / "d.zip")
    assert not (tmp_path / "d.zip").exists()


def test_what_is_made_for_a_request_names_nobody_and_keeps_every_figure(tmp_path: Path) -> None:
    before = read_survey(EXAMPLES / "hard")
    folder = tmp_path / "coded"
    written = write_survey(redacted(before), folder)
    assert written.is_whole
    after = read_survey(folder)
    texts = "\n".join(
        file.read_text("utf-8") for file in folder.rglob("*") if file.suffix in (".csv", ".jsonl", ".toml")
    )
    people = {entry.author for entry in before.entries if entry.author} | {
        entry.fields[name] for entry in before.entries for name in ("from", "to") if entry.fields.get(name)
    }
    assert people
    assert not [name for name in people if name in texts]
    assert not [code for code in before.workers if f"\n{code}," in texts or f",{code}," in texts]
    assert not [entry.fields["text"] for entry in before.entries if entry.fields.get("text", "\0") in texts]
    one, other = assess(before), assess(after)
    assert [s.concentration and s.concentration.value for s in one.samples] == [
        s.concentration and s.concentration.value for s in other.samples
    ]
    assert [v.comparison.verdict for s in one.shifts for v in s.verdicts] == [
        v.comparison.verdict for s in other.shifts for v in s.verdicts
    ]


def test_a_workers_own_code_stays_when_they_ask() -> None:
    survey = read_survey(EXAMPLES / "hard")
    code = next(iter(survey.workers))
    assert set(redacted(survey, keep_worker=code).workers) & set(survey.workers) == {code}
    with pytest.raises(KeyError, match="no worker nobody"):
        redacted(survey, keep_worker="nobody")


def test_the_commands_make_sign_and_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out, key = str(tmp_path / "d.zip"), str(tmp_path / "key.pem")
    assert main(["dossier", str(EXAMPLES / "small"), out, "--sign", key, "--make-key"]) == 0
    assert (Path(key).stat().st_mode & 0o077) == 0
    assert "documents/calculation-record.pdf" in contents(Path(out))
    assert main(["verify", out, "--json", str(tmp_path / "v.json")]) == 0
    assert json.loads((tmp_path / "v.json").read_text())["holds"] is True
    assert "Signed with the key" in capsys.readouterr().out
    assert main(["dossier", str(EXAMPLES / "small"), out, "--sign", key, "--make-key"]) == 2
    assert "a key is never overwritten" in capsys.readouterr().err
    assert main(["dossier", str(EXAMPLES / "small"), out, "--keep-worker", "W-1"]) == 2
    assert main(["verify", str(tmp_path / "nothing.zip")]) == 2
    Path(out).write_bytes(Path(out).read_bytes()[:-3])
    assert main(["verify", out]) == 1


def test_a_key_made_for_a_dossier_that_is_not_written_does_not_stay(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever corrects the folder gives the same line again."""
    out, key = tmp_path / "d.zip", tmp_path / "key.pem"
    assert main(["dossier", str(tmp_path), str(out), "--sign", str(key), "--make-key"]) == 2
    assert list(tmp_path.iterdir()) == []
    key.write_bytes(KEY)
    assert main(["dossier", str(tmp_path), str(out), "--sign", str(key)]) == 2
    assert key.read_bytes() == KEY
    capsys.readouterr()


@pytest.fixture(scope="module")
def with_kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[KeptFile]]:
    """A dossier with two documents people were given, one of them made from other inputs."""
    folder = tmp_path_factory.mktemp("kept")
    survey = read_survey(EXAMPLES / "small")
    kept = []
    for number, (name, inputs) in enumerate((("letter-W/1.pdf", survey.input_sha256), ("list.docx", "0" * 64)), 1):
        content = random.Random(number).randbytes(3000)
        (folder / str(number)).write_bytes(content)
        made_at, sha256 = survey.entries[0].at, hashlib.sha256(content).hexdigest()
        kept.append(KeptFile(number, name, "x/y", sha256, inputs, made_at, "lead", "here", folder / str(number)))
    path = folder / "kept.zip"
    write_dossier(assess(survey), EXAMPLES / "small", path, signing_key=KEY, kept=kept)
    return path, kept


def of_kept(path: Path) -> Check:
    found = verify_dossier(path, recompute=False)
    return next(check for check in found.checks if check.what == "Documents people were given")


def test_documents_people_were_given_are_in_it_as_they_were(with_kept: tuple[Path, list[KeptFile]]) -> None:
    path, kept = with_kept
    files = contents(path)
    for one in kept:
        assert one.path is not None
        assert one.content is not None
        assert files[one.path] == one.content.read_bytes()
    assert verify_dossier(path).holds
    assert of_kept(path).words == "2 are byte for byte as kept; 1 of them made from other inputs than these."
    schema = json.loads(files["schemas/kept-documents.schema.json"])
    jsonschema.validate(json.loads(files[KEPT_LIST]), schema)


def test_no_byte_of_a_document_people_were_given_changes_unseen(
    with_kept: tuple[Path, list[KeptFile]], tmp_path: Path
) -> None:
    whole = with_kept[0].read_bytes()
    drawn = random.Random(5)
    changed = tmp_path / "changed.zip"
    inside = [whole.index(one.content.read_bytes()) for one in with_kept[1] if one.content]
    places = {*drawn.sample(range(len(whole)), 60), *(start + drawn.randrange(3000) for start in inside * 20)}
    for place in sorted(places):
        other = bytearray(whole)
        other[place] ^= 1 << drawn.randrange(8)
        changed.write_bytes(other)
        assert not verify_dossier(changed, recompute=False).holds, f"byte {place}"


@pytest.mark.parametrize("how", ["changed", "lost", "added", "unlisted", "damaged", "no list"])
def test_documents_that_are_not_those_kept_are_found_when_list_and_seal_are_made_anew(
    how: str, with_kept: tuple[Path, list[KeptFile]], tmp_path: Path
) -> None:
    path, kept = with_kept
    first, second = (one.path or "" for one in kept)
    files, rows = contents(path), json.loads(contents(path)[KEPT_LIST])
    manifest = json.loads(files["manifest.json"])
    if how == "changed":
        files[first] = files[first][:-1] + b"?"
    elif how == "lost":
        del files[second]
    elif how == "added":
        files["documents/kept/3-new.pdf"] = b"new"
        manifest["files"].append({"path": "documents/kept/3-new.pdf"})
    elif how == "unlisted":
        files[KEPT_LIST] = json.dumps(rows[:1]).encode()
    elif how == "damaged":
        files[KEPT_LIST] = json.dumps([rows[0], rows[1] | {"state": "damaged", "file": None}]).encode()
    else:
        del files[KEPT_LIST]
    manifest["files"] = [row for row in manifest["files"] if row["path"] in files]
    target = tmp_path / "forged.zip"
    _pack(target, (files | {"manifest.json": json.dumps(manifest).encode()}).items())
    _close_with_seal(target, None)
    found = of_kept(forged(target, {}, tmp_path / "again.zip"))
    assert found.holds is False, found.words


def test_what_would_not_be_read_again_is_not_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assessed = assess(read_survey(EXAMPLES / "small"))
    for name, most, said in (
        ("MOST_FILES", 20, "at most 20 are"), ("LARGEST_FILE", 100, "at most 100 are"), ("LARGEST_DOSSIER", 900, "900"),
    ):  # fmt: skip
        with monkeypatch.context() as patched:
            patched.setattr(layout, name, most)
            with pytest.raises(DossierTooLarge, match=said):
                write_dossier(assessed, EXAMPLES / "small", tmp_path / "large.zip")
    assert not (tmp_path / "large.zip").exists()
