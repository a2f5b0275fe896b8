#!/usr/bin/env python3
"""
Two commands that do everything from nothing, with Python alone.

    python3 go.py demo     start Lapel on its demonstration survey and open it in a browser
    python3 go.py test     every check and every test

Both make their own environment in `.venv` beside this file, from hash-pinned lists (`locked/`). Nothing is installed
anywhere else, and nothing is done again while the lists have not changed.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
MARK = VENV / "lapel-ready.txt"


def say(words: str) -> None:
    """Tell the person what is going on; results go elsewhere."""
    print(words, file=sys.stderr, flush=True)


def stop(words: str) -> None:
    """End with a reason a person can act on."""
    say(words)
    raise SystemExit(2)


def run(*command: object, quiet: bool = False) -> int:
    """Run a command in the project's folder; its exit code."""
    environment = os.environ | {"UV_PYTHON_DOWNLOADS": "never", "PYTHONUTF8": "1"}
    output = subprocess.DEVNULL if quiet else None
    return subprocess.call([str(part) for part in command], cwd=HERE, env=environment, stdout=output)


def fingerprint(wanted: str) -> str:
    """What the environment must have been made from to be used as it is."""
    digest = hashlib.sha256(f"{sys.version_info[:2]}".encode())
    for name in ("pyproject.toml", f"locked/{wanted}.txt", "locked/uv.txt"):
        digest.update((HERE / name).read_bytes())
    return f"{wanted} {digest.hexdigest()}"


def ready(wanted: str) -> bool:
    """Say whether the environment is there and up to date; one made for the tests also serves the demonstration."""
    found = MARK.read_text() if MARK.exists() and PYTHON.exists() else ""
    return found == fingerprint(wanted) or (wanted == "app" and found == fingerprint("dev"))


def prepare(wanted: str) -> None:
    """Make the environment from the locked list: `app` to use Lapel, `dev` to test it too."""
    if ready(wanted):
        return
    started = time.monotonic()
    say(f"Setting up Lapel in {VENV.name}/ (the first time needs a package registry and about a minute) ...")
    MARK.unlink(missing_ok=True)
    if run(sys.executable, "-m", "venv", VENV):
        stop("Python could not make an environment. On Debian or Ubuntu: apt install python3-venv, then try again.")
    if run(PYTHON, "-m", "pip", "install", "--quiet", "--require-hashes", "-r", "locked/uv.txt"):
        stop("The installer (uv) could not be fetched. Is a package registry reachable from here? Then try again.")
    uv = [PYTHON, "-m", "uv", "pip"]
    if run(*uv, "sync", "--quiet", "--python", PYTHON, "--require-hashes", f"locked/{wanted}.txt"):
        stop(f"The packages in locked/{wanted}.txt could not be installed; the lines above say which. Then try again.")
    if run(*uv, "install", "--quiet", "--python", PYTHON, "--no-deps", "--no-build-isolation", "--editable", "."):
        stop("Lapel itself could not be installed; the lines above say why.")
    MARK.write_text(fingerprint(wanted))
    say(f"Ready after {time.monotonic() - started:.0f} s.")


def has_browser() -> bool:
    """Say whether a Chromium the page tests can drive is installed."""
    return any(shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge"))


def has_postgres() -> bool:
    """Say whether PostgreSQL's server programs are installed, on the path or where Debian keeps them."""
    return bool(shutil.which("pg_ctl") or sorted(Path("/usr/lib/postgresql").glob("*/bin/pg_ctl")))


def provide(arguments: argparse.Namespace) -> list[str]:
    """
    See to it that a browser and PostgreSQL are there for the tests; the words for pytest where a person left one out.

    As root on Debian or Ubuntu what is missing is installed; elsewhere the words say how to get it.
    """
    missing = []
    if not arguments.no_browser and not has_browser():
        missing.append("chromium")
    if not arguments.no_postgres and not has_postgres():
        missing.append("postgresql")
    if missing and shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        say(f"Installing {' and '.join(missing)} for the tests ...")
        os.environ["DEBIAN_FRONTEND"] = "noninteractive"
        run("apt-get", "update", "-qq", quiet=True)
        run("apt-get", "install", "-y", "-qq", *missing, quiet=True)
    if not arguments.no_browser and not has_browser():
        stop(
            "The page tests need Chromium or Chrome. Install it (on Debian: apt install chromium), "
            "or leave them out with --no-browser."
        )
    if not arguments.no_postgres and not has_postgres():
        stop(
            "Some tests need PostgreSQL's server. Install it (on Debian: apt install postgresql), "
            "or leave them out with --no-postgres."
        )
    left_out = (("--no-browser", arguments.no_browser), ("--no-postgres", arguments.no_postgres))
    return [flag for flag, chosen in left_out if chosen]


def demo(arguments: argparse.Namespace) -> int:
    """Start the application on its demonstration survey and say where to click."""
    prepare("app")
    command: list[object] = [PYTHON, "-m", "lapel.cli.main", "demo", "--port", arguments.port]
    try:
        return run(*command, *(["--no-open"] if arguments.no_open else []))
    except KeyboardInterrupt:
        return 0


def shared_out(workers: int) -> tuple[str, ...]:
    """Give each test process tests that lie together, so that one of them starts the server they need, not all."""
    return "-n", str(workers), "--dist", "worksteal"


def test(arguments: argparse.Namespace) -> int:
    """Run the house rules, then every test."""
    prepare("dev")
    left_out = provide(arguments)
    checks: list[tuple[str, tuple[str | Path, ...]]] = [
        ("style", (PYTHON, "-m", "ruff", "check", ".")),
        ("layout", (PYTHON, "-m", "ruff", "format", "--check", "--quiet", ".")),
        ("types", (PYTHON, "-m", "mypy")),
        ("the house (imports flow one way)", (BIN / "lint-imports", "--no-cache")),
        ("tests", (PYTHON, "-m", "pytest", "-q", *shared_out(arguments.workers), *left_out, *arguments.pytest)),
    ]
    failed = []
    for name, command in checks:
        say(f"--- {name}")
        if run(*command):
            failed.append(name)
    if failed:
        say(f"Failed: {', '.join(failed)}.")
        return 1
    return 0


def main() -> int:
    """Read the command and do it."""
    if sys.version_info < (3, 11):
        found = ".".join(str(part) for part in sys.version_info[:3])
        stop(f"Lapel needs Python 3.11 or newer; this is {found}.")
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(dest="command", required=True)
    shown = commands.add_parser("demo", help="start Lapel on its demonstration survey")
    shown.add_argument("--no-open", action="store_true", help="do not open a browser, only say where to look")
    shown.add_argument("--port", type=int, default=8321, help="port to answer at (default 8321)")
    tested = commands.add_parser("test", help="every check and every test")
    tested.add_argument("--workers", type=int, default=min(2, os.cpu_count() or 1), help="test processes (default 2)")
    tested.add_argument("--no-browser", action="store_true", help="leave the page tests out")
    tested.add_argument("--no-postgres", action="store_true", help="leave the PostgreSQL tests out")
    tested.add_argument("pytest", nargs="*", help="passed to pytest, after --")
    arguments = parser.parse_args()
    return demo(arguments) if arguments.command == "demo" else test(arguments)


if __name__ == "__main__":
    raise SystemExit(main())
