"""Sourced substances, limits, methods and rule books; nothing is read before it is asked for."""

from lapel.reference.problems import FileFault, UnusableFileError
from lapel.reference.rule_books import PACKAGED, rule_book, rule_book_from

__all__ = ["PACKAGED", "FileFault", "UnusableFileError", "rule_book", "rule_book_from"]
