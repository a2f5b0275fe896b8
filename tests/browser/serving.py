"""Servers of the browser tests: each with a home of its own, in a process of its own."""

import os
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

HERE = Path(__file__).parent


def environment(home, **more):
    """What a server of the tests is told: its home, and nothing of what else this machine may be set to."""
    return os.environ | {"LAPEL_HOME": str(home), "LAPEL_DATABASE": "", "LAPEL_HTTPS": "", "LAPEL_DEBUG": ""} | more


def started(home, script, *arguments):
    """Start a server; its process, and the first line it says, once it answers."""
    with (home / "server.log").open("a") as log:
        server = subprocess.Popen(
            [sys.executable, str(HERE / script), *map(str, arguments)],
            env=environment(home),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        )
    line = server.stdout.readline()
    if not line:
        stopped(server)
        raise AssertionError((home / "server.log").read_text())
    return server, line.strip()


def stopped(server):
    """End a server at once, as a power cut does."""
    server.kill()
    server.wait(timeout=60)
    for pipe in (server.stdin, server.stdout, server.stderr):
        if pipe:
            pipe.close()


@contextmanager
def serving(home, script):
    """A server as long as this lasts: its process and address."""
    server, port = started(home, script)
    try:
        yield server, f"http://127.0.0.1:{port}"
    finally:
        stopped(server)
