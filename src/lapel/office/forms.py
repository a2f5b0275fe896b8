"""How forms are drawn: one template for every field, with its hint and its fault read out by screen readers."""

from __future__ import annotations

from django.forms.renderers import DjangoTemplates


class OfficeForms(DjangoTemplates):
    """Draw ``{{ form }}`` and ``{{ field.as_field_group }}`` with the office's own templates."""

    form_template_name = "office/parts/form.html"
    field_template_name = "office/parts/field.html"
