"""Addresses of the field's interface."""

from django.urls import URLPattern, URLResolver, path

from lapel.field.api import api

urlpatterns: list[URLPattern | URLResolver] = [path("api/v1/", api.urls)]
