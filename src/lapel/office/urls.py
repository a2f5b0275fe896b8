"""Addresses of the office pages: each group of pages has its own, in its own package."""

from django.urls import URLPattern, URLResolver, include, path

from lapel.office.appearance import choose_appearance
from lapel.office.people.second_factor import open_before_second_factor

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("lapel.office.scope.urls")),
    path("", include("lapel.office.plan.urls")),
    path("", include("lapel.office.surveys.urls")),
    path("", include("lapel.office.people.urls")),
    path("", include("lapel.office.audit.urls")),
    path("", include("lapel.office.prepare.urls")),
    path("", include("lapel.office.field_day.urls")),
    path("", include("lapel.office.paper.urls")),
    path("", include("lapel.office.dispatch.urls")),
    path("", include("lapel.office.results.urls")),
    path("", include("lapel.office.samples.urls")),
    path("", include("lapel.office.judge.urls")),
    path("", include("lapel.office.report.urls")),
    path("", include("lapel.office.equipment.urls")),
    path("", include("lapel.office.devices.urls")),
    path("", include("lapel.office.workers.urls")),
    path("appearance/", open_before_second_factor(choose_appearance), name="appearance"),
]
