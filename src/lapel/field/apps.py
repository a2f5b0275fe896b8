"""Application settings of the field."""

from django.apps import AppConfig


class FieldConfig(AppConfig):
    """It has no tables of its own: what it takes goes into the records."""

    name = "lapel.field"
    label = "field"
    verbose_name = "Field"
