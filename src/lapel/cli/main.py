"""The command `lapel`: one line of help a command, each in a module that is imported only when called."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from io import TextIOWrapper
from typing import NamedTuple

from lapel import __version__
from lapel.cli.exits import FINDINGS, UNUSABLE, leave


class Command(NamedTuple):
    """A command's name, its line of help, and the module with its `arguments` and `execute`."""

    name: str
    help: str
    module: str


COMMANDS = (
    Command("assess", "assess a survey folder: standing, concentrations, shift averages, limits", "lapel.cli.assess"),
    Command("show-working", "print the calculation behind one sample", "lapel.cli.show_working"),
    Command("scope", "look agents up: limits side by side, methods, cautions", "lapel.cli.scope"),
    Command("plan", "plan a survey: windows, people, days, pumps, with proof or gap", "lapel.cli.plan"),
    Command("dispatch", "what goes to the laboratory, and the form that goes with it", "lapel.cli.dispatch"),
    Command("results", "read a laboratory's report: propose, ask, reconcile, take over", "lapel.cli.results"),
    Command("judge", "judge a group of results against a limit", "lapel.cli.judge"),
    Command("demo", "start the demonstration in a browser", "lapel.cli.demo"),
    Command("serve", "serve the records to people in a browser", "lapel.cli.serve"),
    Command("import", "bring a survey folder into the records of this server", "lapel.cli.import_folder"),
    Command("export", "write a survey on record as a survey folder", "lapel.cli.export_survey"),
    Command("log", "prove that the field log is as it was recorded", "lapel.cli.log"),
    Command("report", "write report, summary, letters to workers and posted lists", "lapel.cli.report"),
    Command("dossier", "put a survey with everything it rests on into one sealed file", "lapel.cli.dossier"),
    Command("verify", "check a dossier: every byte, its signature, every figure computed again", "lapel.cli.verify"),
    Command("backup", "copy the records into one file while people work", "lapel.cli.backup"),
    Command("restore", "put a backup in place of the records of this server", "lapel.cli.restore"),
)


def main(argv: Sequence[str] | None = None) -> int:
    """
    Run one command.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments without the program's name; the process's own if left out.

    Returns
    -------
    int
        0 done; 1 done, with findings; 2 input unusable, nothing written.
    """
    given = list(sys.argv[1:] if argv is None else argv)
    chosen = next((command for command in COMMANDS if given and command.name == given[0]), None)
    if chosen is None:
        parser = argparse.ArgumentParser(prog="lapel", description="Personal air sampling, from plan to decision.")
        parser.add_argument("--version", action="version", version=f"lapel {__version__}")
        listed = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
        for command in COMMANDS:
            listed.add_parser(command.name, help=command.help, add_help=False)
        parser.parse_args(given)
        return UNUSABLE  # pragma: no cover - argparse leaves by SystemExit
    module = importlib.import_module(chosen.module)
    parser = argparse.ArgumentParser(prog=f"lapel {chosen.name}", description=module.__doc__)
    module.arguments(parser)
    options = parser.parse_args(given[1:])
    try:
        code: int = module.execute(options)
    except BrokenPipeError:  # whoever read the output has enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINDINGS
    except OSError as problem:  # a place that cannot be written, a disk that is full
        sys.stderr.write(f"{problem}\n")
        return UNUSABLE
    return code


def run() -> None:
    """Entry point of the installed command; a letter the terminal does not have is written plainly."""
    importlib.import_module("lapel.cli.writing")  # knows how
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="plain letters")
    leave(main())


if __name__ == "__main__":
    run()
