"""What every test stands on: a server folder of its own, never the one people use, and databases to try things on."""

import os
import sys
import tempfile
from pathlib import Path

os.environ["LAPEL_HOME"] = tempfile.mkdtemp(prefix="lapel-tests-")
sys.path.insert(0, str(Path(__file__).parent))

pytest_plugins = ("postgres", "fresh_database", "chromium")
