"""
Serve the records to people in a browser.

One process is enough for a plant. The records live in LAPEL_HOME (SQLite), or where LAPEL_DATABASE says (PostgreSQL).
"""

from __future__ import annotations

import argparse
import os
import threading
import webbrowser
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from lapel.cli.exits import DONE, UNUSABLE
from lapel.cli.faults import say

if TYPE_CHECKING:
    from lapel.site.own_https import OwnHttps


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--host", default="127.0.0.1", help="address to answer at; 0.0.0.0 for the plant's network")
    parser.add_argument("--port", type=int, default=8321, help="port to answer at")
    parser.add_argument(
        "--https",
        nargs="+",
        metavar="NAME",
        help="speak HTTPS under these host names or addresses, with a certificate of this server's own authority",
    )
    parser.add_argument("--open", action="store_true", help="open the first page in a browser")


def execute(options: argparse.Namespace) -> int:
    """Serve until stopped with Ctrl+C; 2 when the server cannot start."""
    return run_server(options.host, options.port, open_page=options.open, https=options.https or ())


def run_server(
    host: str,
    port: int,
    *,
    open_page: bool = False,
    before: Callable[[], None] | None = None,
    path: str = "/",
    https: Sequence[str] = (),
) -> int:
    """
    Bring the records up to date and serve them.

    Parameters
    ----------
    host, port : str and int
        Where to answer.
    open_page : bool
        Open a browser at `path` once the server answers.
    before : callable, optional
        Done once the records are there, such as loading the demonstration.
    path : str
        The page to open.
    https : sequence of str
        Names and addresses to speak HTTPS under; plain HTTP without any.
    """
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lapel.site.settings")
    if https:
        os.environ["LAPEL_HTTPS"] = "yes"
        known = os.environ.get("LAPEL_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
        os.environ["LAPEL_HOSTS"] = ",".join(dict.fromkeys([*known, *https]))
    import django

    django.setup()
    from django.conf import settings

    from lapel.site.own_https import NameProblem, own_https
    from lapel.site.serve import CannotServe, bring_up_to_date, cautions, check_disk, only_server, serve

    home = Path(settings.HOME)
    scheme, reached = ("https", https[0]) if https else ("http", "localhost")
    address = f"{scheme}://{reached if https or host in ('127.0.0.1', '0.0.0.0') else host}:{port}{path}"
    try:
        own = own_https(home, https) if https else None
        check_disk(home)
        with only_server(home, address.removesuffix(path) + "/"):
            if said := bring_up_to_date(home):
                say(said)
            for caution in cautions(home):
                say(f"Caution: {caution}")
            if before is not None:
                before()
            if own is not None:
                say(_about_the_authority(own))
            say(f"\nLapel answers at {address}   (stop it with Ctrl+C)")
            if open_page:
                threading.Timer(1.0, webbrowser.open, [address]).start()
            serve(host, port, own.context() if own else None)
    except (CannotServe, NameProblem) as problem:
        say(str(problem))
        return UNUSABLE
    return DONE


def _about_the_authority(own: OwnHttps) -> str:
    return (
        f"{own.said}{' ' if own.said else ''}Devices trust this server once they have its authority: {own.authority}\n"
        f"SHA-256 of it, as the device shows it: {own.fingerprint}"
    )
