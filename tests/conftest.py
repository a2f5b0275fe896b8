"""What every test stands on: a server folder of its own, never the one people use, and databases to try things on."""

import os
import sys
import tempfile
from pathlib import Path

import django
import hypothesis
from django.conf import settings

hypothesis.settings.register_profile("lapel", deadline=None)  # a busy machine is no fault; benchmarks time the code
hypothesis.settings.load_profile("lapel")

HOME_OF_THE_RUN = "LAPEL_HOME_OF_THE_TESTS"
"""Handed by the first process of a run to its helpers, so that all of them share what is made once."""

os.environ["LAPEL_HOME"] = os.environ.setdefault(HOME_OF_THE_RUN, tempfile.mkdtemp(prefix="lapel-tests-"))
os.environ["DJANGO_SETTINGS_MODULE"] = "lapel.site.settings"  # here and in no file: it reads LAPEL_HOME once
sys.path.insert(0, str(Path(__file__).parent))
settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # fast; a server keeps the slow one
django.setup()

pytest_plugins = ("postgres", "fresh_database", "casts", "chromium", "static_files")
