"""Which address leads to which room."""

from django.urls import include, path

urlpatterns = [
    path("", include("lapel.office.urls")),
]
