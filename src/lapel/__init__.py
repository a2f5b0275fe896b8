"""Lapel: personal air sampling, from the plan to the defended decision."""

__version__ = "0.1.0"
