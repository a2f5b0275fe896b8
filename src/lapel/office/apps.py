"""Application settings of the office pages."""

from django.apps import AppConfig


class OfficeConfig(AppConfig):
    """Templates and static files of the office, and the log of who signs in."""

    name = "lapel.office"
    label = "office"
    verbose_name = "Office"

    def ready(self) -> None:
        """Listen for people signing in and out."""
        from lapel.office.people import sign_in_log

        sign_in_log.connect()
