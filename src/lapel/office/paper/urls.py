"""Addresses of the field sheets: the list, the print, and the page a sheet is typed into."""

from django.urls import path

from lapel.office.paper import views

urlpatterns = [
    path("surveys/<str:survey>/sheets/", views.sheets, name="field-sheets"),
    path("surveys/<str:survey>/sheets/<str:day>/print.pdf", views.printed, name="field-sheets-pdf"),
    path("surveys/<str:survey>/sheets/<str:day>/<str:train>/", views.typed, name="field-sheet"),
]
