"""Addresses of the day, the log and its entries; an entry's id may hold any sign, as a line of a paper sheet does."""

from django.urls import path

from lapel.office.field_day import file_views, refused_views, views

urlpatterns = [
    path("surveys/<str:survey>/field/", views.field, name="survey-field"),
    path("surveys/<str:survey>/log/", views.log, name="survey-log"),
    path("surveys/<str:survey>/refused/", refused_views.of_survey, name="survey-refused"),
    path("sites/<str:site>/refused/", refused_views.of_site, name="site-refused"),
    path("surveys/<str:survey>/refused/<int:refused>/", views.refused, name="refused-entry"),
    path("surveys/<str:survey>/entries-from-file/", file_views.entries_from_file, name="entries-from-file"),
    path("surveys/<str:survey>/receipts/", file_views.receipts, name="device-receipts"),
    path("surveys/<str:survey>/log/<path:entry>/correct/", views.correct, name="correct-entry"),
    path("surveys/<str:survey>/log/<path:entry>/withdraw/", views.withdraw, name="withdraw-entry"),
    path("surveys/<str:survey>/log/<path:entry>/distinct/", views.distinct, name="distinct-entries"),
    path("surveys/<str:survey>/log/<path:entry>/", views.entry, name="entry"),
]
