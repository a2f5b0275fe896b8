"""Address of the preparation page."""

from django.urls import path

from lapel.office.prepare import views

urlpatterns = [path("surveys/<str:survey>/prepare/", views.prepare, name="survey-prepare")]
