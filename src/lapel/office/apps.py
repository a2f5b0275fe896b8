"""Application settings of the office pages."""

from django.apps import AppConfig


class OfficeConfig(AppConfig):
    """Templates and static files of the office."""

    name = "lapel.office"
    label = "office"
    verbose_name = "Office"
