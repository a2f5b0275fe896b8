"""The kernel works where nothing of the web, of files or of documents is installed."""

import subprocess
import sys
import textwrap
from pathlib import Path

KERNEL = ("figures", "hygiene", "statistics", "planning", "fieldlog")
NOT_THERE = (
    "django", "typst", "openpyxl", "rich", "jsonschema", "segno", "whitenoise", "waitress", "ninja", "pydantic",
    "simple_history", "axes", "csp", "distributed", "dask",
)  # fmt: skip


def run_without(code):
    program = f"""
        import sys

        class Absent:
            def find_spec(self, name, path=None, target=None):
                if name.split(".")[0] in {NOT_THERE!r}:
                    raise ModuleNotFoundError(f"{{name}} is not installed", name=name)

        sys.meta_path.insert(0, Absent())
    """
    whole = textwrap.dedent(program) + textwrap.dedent(code)
    return subprocess.run([sys.executable, "-W", "error", "-c", whole], capture_output=True, text=True, check=False)


def test_every_module_of_the_kernel_loads_alone():
    done = run_without(f"""
        import importlib, pkgutil
        for room in {KERNEL!r}:
            package = importlib.import_module("lapel." + room)
            for found in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
                importlib.import_module(found.name)
        print("all")
    """)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "all"


def test_a_sample_and_a_group_are_worked_alone():
    done = run_without("""
        from lapel.hygiene import concentration, sample_flow, sample_volume
        from lapel.statistics import compliance_test
        print(round(concentration(10.0, sample_volume(sample_flow(0.1, 0.1), 100.0)).value, 6))
        print(compliance_test([0.01, 0.02, 0.03], 1.0).outcome)
    """)
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == ["1.0", "shown"]


def test_assessing_a_folder_needs_no_django():
    code = (
        "import sys\nfrom lapel.cli.main import main\n"
        "code = main(['assess', 'examples/small', '--quiet', '--json', '-'])\n"
        "print([m for m in sys.modules if m.split('.')[0] == 'django'], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=Path(__file__).parents[2], capture_output=True, text=True, check=True
    )
    assert done.stderr.strip() == "[]"
