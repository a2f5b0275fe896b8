"""The collected static files, as a server has them, in the tests' own home."""

from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from filelock import FileLock


@pytest.fixture(scope="session")
def static_files():
    """Collect them once, whichever of several test processes comes first."""
    home = Path(settings.HOME)
    home.mkdir(parents=True, exist_ok=True)
    with FileLock(home / "static-files.lock"):
        if not (Path(settings.STATIC_ROOT) / "staticfiles.json").exists():  # written last, so it is whole
            call_command("collectstatic", interactive=False, verbosity=0)
