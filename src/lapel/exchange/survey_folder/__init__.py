"""
The survey folder: a whole survey as TOML and CSV files that people can read, compare and keep.

`layout` says what the files hold; docs/reference/survey-folder.md and the JSON Schemas beside it are made from it.
"""

from __future__ import annotations

from lapel.exchange.survey_folder.folder import check_survey_folder, read_survey

__all__ = ["check_survey_folder", "read_survey"]
