"""
A server for the tests of the field page: the cast, two paired devices, and an edition of the page that can be changed.

    python field_server.py PORT [WORDS]   the first line on stdout: the port and the keys, as JSON

With WORDS the page's edition is another one, as after an update. Started again in the same LAPEL_HOME it goes on.
"""

import json
import os
import sys
from importlib import import_module
from pathlib import Path

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lapel.site.settings")
sys.path.insert(0, str(Path(__file__).parents[1]))
DEVICES = ("phone-1", "tablet-2")


def main() -> None:
    """Fill the database if it is new, then serve."""
    django.setup()
    from django.conf import settings
    from late import late
    from waitress.server import create_server

    keys = settings.HOME / "keys.json"
    if not keys.exists():
        keys.write_text(json.dumps(_filled()))
    if len(sys.argv) > 2:
        _change_the_edition(sys.argv[2])
    from lapel.site.wsgi import application

    import_module("lapel.site.urls")  # now, not at the first request: a page waits 15 s for an answer

    server = create_server(late(application), host="127.0.0.1", port=int(sys.argv[1]), threads=4)
    print(json.dumps({"port": server.effective_port, "keys": json.loads(keys.read_text())}), flush=True)
    server.run()


def _filled() -> dict[str, str]:
    from cast import make_cast
    from django.core.management import call_command

    from lapel.records.devices import pair_device

    call_command("migrate", verbosity=0, interactive=False)
    cast = make_cast("small")
    return {code: pair_device(cast.site, code=code, user=cast.lead)[1] for code in DEVICES}


def _change_the_edition(words: str) -> None:
    from lapel.field import edition

    made = edition.made_edition({"news.json": json.dumps(words).encode()})
    edition._kept_edition = lambda: made


if __name__ == "__main__":
    main()
