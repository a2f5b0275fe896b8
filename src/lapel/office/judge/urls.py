"""Addresses of groups against limits; a group's code may hold a space or a dot, so the whole rest is the question."""

from django.urls import path

from lapel.office.judge import views

urlpatterns = [
    path("surveys/<str:survey>/groups/", views.groups, name="survey-groups"),
    path("surveys/<str:survey>/groups/use-earlier/", views.use_earlier, name="use-earlier"),
    path("surveys/<str:survey>/groups/<str:address>/", views.group, name="survey-group"),
]
