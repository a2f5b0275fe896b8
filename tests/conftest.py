"""What every test stands on: a server folder of its own, never the one people use."""

import os
import tempfile

os.environ["LAPEL_HOME"] = tempfile.mkdtemp(prefix="lapel-tests-")
