"""Addresses of samples and of shifts against their limits; a sampler's number may hold any sign, a slash too."""

from django.urls import path

from lapel.office.samples import book_views, views

urlpatterns = [
    path("surveys/<str:survey>/samples/", views.samples, name="survey-samples"),
    path("surveys/<str:survey>/samples/<path:sampler>/lift/<str:rule>/", views.lift, name="lift-finding"),
    path("surveys/<str:survey>/samples/<path:sampler>/restore/<int:override>/", views.restore, name="restore-finding"),
    path("surveys/<str:survey>/samples/<path:sampler>/", views.sample, name="survey-sample"),
    path("surveys/<str:survey>/judge/", views.shifts, name="survey-judge"),
    path("surveys/<str:survey>/judge/rule-books/", book_views.by_rule_books, name="by-rule-books"),
]
