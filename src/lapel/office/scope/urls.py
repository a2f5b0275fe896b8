"""Addresses of a new survey and of the scope pages."""

from django.urls import path

from lapel.office.scope import views

urlpatterns = [
    path("surveys/new/", views.new_survey, name="survey-new"),
    path("surveys/<str:survey>/scope/", views.scope, name="survey-scope"),
    path("surveys/<str:survey>/scope/look-up/", views.look_up, name="scope-look-up"),
    path("surveys/<str:survey>/scope/take/", views.take_found, name="scope-take"),
    path("surveys/<str:survey>/scope/people/", views.add_people, name="scope-people"),
    path("surveys/<str:survey>/scope/shifts/", views.add_shifts, name="scope-shifts"),
    path("surveys/<str:survey>/scope/agents/<str:agent>/", views.agent, name="scope-agent"),
    path("surveys/<str:survey>/scope/agents/<str:agent>/out/", views.drop_agent, name="scope-agent-out"),
]
