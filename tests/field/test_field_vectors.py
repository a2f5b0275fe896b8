"""The numbers shared with the page are still those of the kernel, and the made modules those of the kinds and units."""

import importlib.util
import json
from pathlib import Path

import pytest

from lapel.field.kinds_module import FOLDER as PAGE
from lapel.field.kinds_module import MODULES

FOLDER = Path(__file__).parents[1] / "vectors" / "field"
_spec = importlib.util.spec_from_file_location("make_field_numbers", FOLDER / "make_field_numbers.py")
maker = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(maker)


@pytest.mark.parametrize("name", maker.VECTORS)
def test_the_kernel_computes_what_the_page_is_held_against(name):
    kept = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    made = json.loads(json.dumps(maker.VECTORS[name]()))
    assert len(kept) == len(made)
    for before, now in zip(kept, made, strict=True):
        assert_alike(before, now)


def assert_alike(kept, made):
    """Equal but for the last digits, which another version of Python may add up otherwise."""
    if isinstance(kept, dict):
        assert kept.keys() == made.keys()
        for name in kept:
            assert_alike(kept[name], made[name])
    elif isinstance(kept, list):
        assert len(kept) == len(made)
        for one, other in zip(kept, made, strict=True):
            assert_alike(one, other)
    elif isinstance(kept, float):
        assert made == pytest.approx(kept, rel=1e-12, abs=1e-15)
    else:
        assert kept == made


@pytest.mark.parametrize("name", MODULES)
def test_the_pages_made_modules_are_up_to_date(name):
    assert (PAGE / name).read_text(encoding="utf-8") == MODULES[name](), "run: python -m lapel.field.kinds_module"
