"""What is not ours is there as it came, and said so."""

import hashlib
import tomllib

import pytest

from lapel.field.edition import FOLDER

SAID = tomllib.loads((FOLDER / "vendor" / "VENDORED.toml").read_text(encoding="utf-8"))


def test_every_vendored_file_is_recorded_and_unchanged():
    named = set()
    for said in SAID.values():
        content = (FOLDER / "vendor" / said["file"]).read_bytes()
        assert hashlib.sha256(content).hexdigest() == said["sha256"], said["file"]
        assert said["version"]
        assert said["licence"]
        named.add(said["file"])
    vendor = FOLDER / "vendor"
    assert {path.relative_to(vendor).as_posix() for path in vendor.rglob("*.js")} == named


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("idb.LICENSE.txt", "Permission to use, copy, modify"),
        ("qr.LICENSE.txt", "The above copyright notice and this permission notice shall be included"),
    ],
)
def test_the_licence_goes_with_what_it_is_of(file, words):
    assert words in (FOLDER / "vendor" / file).read_text(encoding="utf-8")
    assert any(f"see {file}" in said["licence"] for said in SAID.values())
