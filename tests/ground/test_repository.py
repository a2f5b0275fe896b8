"""What may never be committed."""

import importlib.util
import json
import re
import subprocess
import tomllib
from pathlib import Path

import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

ROOT = Path(__file__).parents[2]


def committed():
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    return [ROOT / name for name in listed.decode().split("\0") if name and (ROOT / name).is_file()]


REGISTRIES = re.compile(
    rb"(pypi|pythonhosted|npmjs|yarnpkg|debian|ubuntu|anaconda|crates|rubygems|docker|unpkg|jsdelivr|cdnjs)\.(org|com|io|net)"
    rb"|(proxy\.golang|astral)\.(org|sh)|index-url|find-links|registry\s*=\s*[\"']?https?:",
    re.IGNORECASE,
)


def test_no_committed_file_names_a_registry():
    this = Path(__file__)
    named = [
        path.relative_to(ROOT).as_posix()
        for path in committed()
        if path != this and REGISTRIES.search(path.read_bytes())
    ]
    assert named == []


@pytest.mark.parametrize("name", ["app", "dev", "uv"])
def test_every_locked_package_has_an_exact_version_and_hashes(name):
    text = (ROOT / "locked" / f"{name}.txt").read_text()
    entries = [entry for entry in re.split(r"\n(?=\S)", text) if entry.strip()]
    assert entries
    for entry in entries:
        assert re.match(r"[a-z0-9._-]+==[^\s;]+", entry), entry.splitlines()[0]
        assert "--hash=sha256:" in entry, entry.splitlines()[0]
        assert "http" not in entry


def test_everything_the_application_needs_is_locked_at_the_same_version_for_tests():
    def versions(name):
        return set(re.findall(r"^([a-z0-9._-]+==[^\s;\\]+)", (ROOT / "locked" / f"{name}.txt").read_text(), re.M))

    assert versions("app") <= versions("dev")


def test_every_declared_dependency_is_locked():
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]
    names = {re.match(r"[A-Za-z0-9_-]+", line).group().lower() for line in declared}
    locked = set(re.findall(r"^([a-z0-9._-]+)==", (ROOT / "locked" / "app.txt").read_text(), re.M))
    assert names <= locked


def test_the_bill_of_materials_is_that_of_the_lock_and_what_is_vendored():
    spec = importlib.util.spec_from_file_location("make_bill", ROOT / "locked" / "make_bill.py")
    make_bill = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(make_bill)
    kept = (ROOT / "locked" / "app.cdx.json").read_text(encoding="utf-8")
    assert kept == make_bill.text(), "run: python locked/make_bill.py"
    listed = {one["purl"] for one in json.loads(kept)["components"] if "purl" in one}
    locked = re.findall(r"^([a-z0-9._-]+)==([^\s;\\]+)", (ROOT / "locked" / "app.txt").read_text(), re.M)
    assert listed == {f"pkg:pypi/{name}@{version}" for name, version in locked}
    vendored = tomllib.loads(make_bill.VENDORED.read_text(encoding="utf-8"))
    assert len(json.loads(kept)["components"]) == len(locked) + len(vendored)


def test_the_bill_of_materials_is_cyclonedx():
    kept = (ROOT / "locked" / "app.cdx.json").read_text(encoding="utf-8")
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(kept) is None
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(kept.replace('"library"', '"book"')) is not None


def test_ci_runs_exactly_the_test_command_of_the_readme():
    script = (ROOT / ".ci" / "run").read_text()
    assert "python3 go.py test\n" in script
    assert "python3 go.py test" in (ROOT / "README.md").read_text()
    assert "python3 go.py demo" in (ROOT / "README.md").read_text()
