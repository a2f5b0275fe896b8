"""
The page's modules hold together by their types: TypeScript reads their JSDoc, and writes nothing.

It needs node and TypeScript, which nobody needs to use or to change the rest of Lapel; where they are missing this is
skipped and says so. To have them: ``npm install -g typescript``, or LAPEL_TSC with the way to ``tsc``.
"""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from lapel.field.edition import WORKER

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def tsc():
    found = os.environ.get("LAPEL_TSC") or shutil.which("tsc")
    if found is None:
        pytest.skip("no tsc on PATH and none in LAPEL_TSC: npm install -g typescript")
    return found


def complaints(*command):
    # run where no tsconfig.json lies: newer compilers refuse files named beside one
    done = subprocess.run([*map(str, command)], capture_output=True, text=True, cwd=WORKER.parent, check=False)
    return done.stdout.splitlines()


def test_every_module_of_the_page_is_clean_under_strict_types(tsc):
    assert complaints(tsc, "-p", HERE / "tsconfig.json") == []


def test_the_worker_is_clean_under_strict_types(tsc):
    options = ("--noEmit", "--allowJs", "--checkJs", "--strict", "--lib", "es2023,webworker")
    assert complaints(tsc, *options, "--target", "es2022", WORKER) == []
