"""What is not ours is there as it came, and said so."""

import hashlib
import tomllib

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
    assert {path.name for path in (FOLDER / "vendor").glob("*.js")} == named


def test_the_licence_of_idb_goes_with_it():
    assert "Permission to use, copy, modify" in (FOLDER / "vendor" / "idb.LICENSE.txt").read_text(encoding="utf-8")
