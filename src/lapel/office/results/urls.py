"""Addresses of Results."""

from django.urls import path

from lapel.office.results import views

FILE = "surveys/<str:survey>/results/files/<int:delivered>/"

urlpatterns = [
    path("surveys/<str:survey>/results/", views.results, name="survey-results"),
    path(FILE, views.delivered, name="delivered-file"),
    path(f"{FILE}answer/", views.answer, name="answer-file"),
    path(f"{FILE}decide/", views.decide, name="decide-file"),
    path(f"{FILE}column/", views.column, name="column-of-file"),
    path(f"{FILE}ask-again/", views.ask_again, name="ask-again"),
    path(f"{FILE}confirm-near/", views.confirm_near, name="confirm-near"),
    path(f"{FILE}accept/", views.accept, name="accept-file"),
    path(f"{FILE}aside/", views.aside, name="aside-file"),
    path(f"{FILE}original/", views.original, name="original-file"),
    path(f"{FILE}letter/", views.letter, name="letter-to-laboratory"),
]
