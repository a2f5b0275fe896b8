"""Application settings of the records."""

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    """Models live in `lapel.records.models`, by subject."""

    name = "lapel.records"
    label = "records"
    verbose_name = "Records"
