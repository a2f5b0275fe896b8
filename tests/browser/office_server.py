"""A server of its own for the browser tests: a new database with the cast, answered by waitress as on a real one."""

import os
import sys
from pathlib import Path

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lapel.site.settings")
sys.path.insert(0, str(Path(__file__).parents[1]))


def main() -> None:
    """Fill the database, then serve; the first line on stdout is the port."""
    django.setup()
    from cast import make_cast
    from django.core.management import call_command
    from waitress.server import create_server

    call_command("migrate", verbosity=0, interactive=False)
    call_command("collectstatic", verbosity=0, interactive=False)
    make_cast("hard")
    from lapel.site.wsgi import application

    server = create_server(application, host="127.0.0.1", port=0, threads=4)
    print(server.effective_port, flush=True)
    server.run()


if __name__ == "__main__":
    main()
