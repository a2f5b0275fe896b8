"""Application settings of the records."""

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    """Models live in `lapel.records.models`, by subject."""

    name = "lapel.records"
    label = "records"
    verbose_name = "Records"

    def ready(self) -> None:
        """Have secrets sealed in the database."""
        from lapel.records import sealed

        sealed.connect()
