"""Addresses of the pages of workers; a code may hold any sign."""

from django.urls import path

from lapel.office.workers import views

urlpatterns = [
    path("sites/<str:site>/workers/", views.workers, name="workers"),
    path("sites/<str:site>/workers/<path:worker>/group/", views.change_group, name="worker-group"),
]
