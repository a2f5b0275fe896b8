"""What every test stands on: a server folder of its own, never the one people use, and databases to try things on."""

import os
import sys
import tempfile
from pathlib import Path

from hypothesis import settings

settings.register_profile("lapel", deadline=None)  # a busy machine is no fault of the code; benchmarks time it
settings.load_profile("lapel")

os.environ["LAPEL_HOME"] = tempfile.mkdtemp(prefix="lapel-tests-")
sys.path.insert(0, str(Path(__file__).parent))

pytest_plugins = ("postgres", "fresh_database", "chromium")
