"""
What comes in from outside and what goes out in open form.

Everything read here was typed or delivered by someone else: it is checked whole before any of it is used, and every
fault is reported with its place.
"""

from __future__ import annotations

from lapel.exchange.problems import InputProblem, InputProblems, Place
from lapel.exchange.survey_folder import check_survey_folder, read_survey

__all__ = ["InputProblem", "InputProblems", "Place", "check_survey_folder", "read_survey"]
