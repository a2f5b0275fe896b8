"""
Write the bill of materials (CycloneDX 1.6, JSON) from the locked packages and what is vendored: run this file.

    python locked/make_bill.py
"""

from __future__ import annotations

import json
import re
import tomllib
import uuid
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
BILL = HERE / "app.cdx.json"
VENDORED = HERE.parent / "src" / "lapel" / "field" / "static" / "field" / "vendor" / "VENDORED.toml"
LAPEL = "lapel"


def bill() -> dict[str, Any]:
    """Return the bill: Lapel, every package of `app.txt`, every vendored module. The same lock gives the same bill."""
    packages = [_package(*found) for found in _locked((HERE / "app.txt").read_text(encoding="utf-8"))]
    modules = [_module(*found) for found in tomllib.loads(VENDORED.read_text(encoding="utf-8")).items()]
    components = packages + modules
    names = "\n".join(component["bom-ref"] for component in components)
    return {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{uuid.uuid5(uuid.NAMESPACE_URL, names)}",
        "version": 1,
        "metadata": {"component": {"type": "application", "bom-ref": LAPEL, "name": LAPEL, "version": _version()}},
        "components": components,
        "dependencies": [{"ref": LAPEL, "dependsOn": [component["bom-ref"] for component in components]}],
    }


def text() -> str:
    """Return the bill as it is written."""
    return json.dumps(bill(), indent=1, ensure_ascii=False) + "\n"


def _locked(lock: str) -> list[tuple[str, str, str]]:
    """Return name, version and marker of every package."""
    return re.findall(r"^([a-z0-9._-]+)==([^\s;\\]+)(?: ; ([^\\\n]+?))? *\\?$", lock, re.MULTILINE)


def _package(name: str, version: str, marker: str) -> dict[str, Any]:
    address = f"pkg:pypi/{name}@{version}"
    said = {"type": "library", "bom-ref": address, "name": name, "version": version, "purl": address}
    if marker:
        said["properties"] = [{"name": "lapel:only-where", "value": marker}]
    return said


def _module(name: str, said: dict[str, str]) -> dict[str, Any]:
    return {
        "type": "library",
        "bom-ref": f"vendored:{said['file']}",
        "name": name,
        "version": said["version"],
        "hashes": [{"alg": "SHA-256", "content": said["sha256"]}],
        "properties": [{"name": "lapel:vendored-as", "value": said["file"]}],
    }


def _version() -> str:
    text = (HERE.parent / "src" / "lapel" / "__init__.py").read_text(encoding="utf-8")
    found = re.search(r'__version__ = "([^"]+)"', text)
    assert found is not None
    return found.group(1)


if __name__ == "__main__":
    BILL.write_text(text(), encoding="utf-8")
