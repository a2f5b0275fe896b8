"""The command starts light and says what it can do."""

import subprocess
import sys

import pytest

from lapel import __version__
from lapel.cli.main import COMMANDS, main

HEAVY = ("numpy", "scipy", "pint", "typst", "openpyxl", "rich", "uncertainties", "jsonschema", "django")


def test_help_names_every_command(capsys):
    with pytest.raises(SystemExit) as left:
        main(["--help"])
    assert left.value.code == 0
    page = capsys.readouterr().out
    assert all(command.name in page for command in COMMANDS)


def test_version(capsys):
    with pytest.raises(SystemExit):
        main(["--version"])
    assert capsys.readouterr().out.strip() == f"lapel {__version__}"


def test_an_unknown_command_is_unusable_input(capsys):
    with pytest.raises(SystemExit) as left:
        main(["asess"])
    assert left.value.code == 2
    assert "asess" in capsys.readouterr().err


def test_help_imports_nothing_heavy():
    code = (
        "import sys\nfrom lapel.cli.main import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([m for m in {HEAVY!r} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
