"""Every public name, command, option and rule stands in the documentation."""

import argparse
import importlib
import inspect
import pkgutil
import re
import sys
from pathlib import Path

import pytest

import lapel
from lapel.cli.main import COMMANDS

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
sys.path.insert(0, str(DOCS))
import make_reference  # noqa: E402


def modules():
    return [
        importlib.import_module(found.name)
        for found in pkgutil.walk_packages(lapel.__path__, "lapel.")
        if not found.name.endswith("__main__") and ".migrations" not in found.name
    ]


def test_the_page_of_python_names_is_up_to_date():
    assert make_reference.PAGE.read_text(encoding="utf-8") == make_reference.page(), (
        "run: python docs/make_reference.py"
    )


def test_every_public_name_has_a_docstring():
    bare = [
        f"{module.__name__}.{name}"
        for module in modules()
        for name in getattr(module, "__all__", ())
        for thing in [getattr(module, name)]
        if (inspect.isclass(thing) or inspect.isfunction(thing)) and not (thing.__doc__ or "").strip()
    ]
    assert bare == []


def test_every_module_says_what_it_is_for():
    assert [module.__name__ for module in modules() if not (module.__doc__ or "").strip()] == []


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.name)
def test_every_command_and_option_is_in_the_reference(command):
    page = (DOCS / "reference" / "command-line.md").read_text(encoding="utf-8")
    assert f"lapel {command.name}" in page
    parser = argparse.ArgumentParser(add_help=False)
    importlib.import_module(command.module).arguments(parser)
    missing = [
        option
        for action in parser._actions
        for option in (action.option_strings[-1:] or [action.metavar or action.dest.upper()])
        if option not in page
    ]
    assert missing == []


def test_every_setting_of_the_server_is_in_its_page():
    page = (DOCS / "how-to" / "run-a-server.md").read_text(encoding="utf-8")
    code = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "src" / "lapel").rglob("*.py"))
    settings = set(re.findall(r"\bLAPEL_[A-Z_]+\b", code))
    assert {"LAPEL_HOME", "LAPEL_DEBUG"} <= settings
    assert [name for name in sorted(settings) if f"| `{name}` |" not in page] == []


def test_every_link_between_pages_leads_somewhere():
    broken = []
    for page in [*DOCS.rglob("*.md"), ROOT / "README.md", ROOT / "CONTRIBUTING.md"]:
        for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            if not re.match(r"[a-z]+:", target) and not (page.parent / target).exists():
                broken.append(f"{page.relative_to(ROOT)}: {target}")
    assert broken == []


def test_every_page_is_in_the_contents():
    contents = (DOCS / "README.md").read_text(encoding="utf-8")
    pages = [page.relative_to(DOCS).as_posix() for page in DOCS.rglob("*.md") if page != DOCS / "README.md"]
    assert [page for page in pages if f"]({page})" not in contents] == []
