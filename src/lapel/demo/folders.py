"""Where the demonstration's survey folders are: in the installed package, or in the repository it runs from."""

from __future__ import annotations

from pathlib import Path

PACKAGED = Path(__file__).parent / "examples"
"""Filled when the package is built: the wheel carries copies of the repository's `examples`."""

REPOSITORY = Path(__file__).parents[3] / "examples"


def example_folder(name: str) -> Path:
    """
    Return an example's folder.

    Parameters
    ----------
    name : str
        Such as "hard" or "small".

    Raises
    ------
    FileNotFoundError
        It is in neither place.
    """
    for root in (PACKAGED, REPOSITORY):
        if (root / name / "survey.toml").is_file():
            return root / name
    raise FileNotFoundError(
        f"the example “{name}” is neither in {PACKAGED} nor in {REPOSITORY}: install the whole package again"
    )
