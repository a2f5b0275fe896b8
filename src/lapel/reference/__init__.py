"""Sourced substances, limits, methods and rule books; nothing is read before it is asked for."""

from lapel.reference.loader import Found, Library, library
from lapel.reference.problems import FileFault, UnusableFileError
from lapel.reference.rows import CONFIRM, Limit, MethodName, MethodRow, NotificationRule, Source, Substance
from lapel.reference.rule_books import PACKAGED, rule_book, rule_book_from
from lapel.reference.schema import rule_book_schema
from lapel.reference.tables import notification_rules

__all__ = [
    "CONFIRM",
    "PACKAGED",
    "FileFault",
    "Found",
    "Library",
    "Limit",
    "MethodName",
    "MethodRow",
    "NotificationRule",
    "Source",
    "Substance",
    "UnusableFileError",
    "library",
    "notification_rules",
    "rule_book",
    "rule_book_from",
    "rule_book_schema",
]
