"""Addresses of the survey pages."""

from django.urls import path

from lapel.office.surveys import views

urlpatterns = [
    path("", views.surveys, name="surveys"),
    path("surveys/<str:survey>/", views.road, name="survey"),
]
