"""Addresses of the audit pages."""

from django.urls import path

from lapel.office.audit import proof_views, views

urlpatterns = [
    path("sites/<str:site>/log/proof/", proof_views.proof, name="site-proof"),
    path("surveys/<str:survey>/history/", views.survey_history, name="survey-audit"),
    path("surveys/<str:survey>/history/<str:kind>/<path:key>/", views.record_history, name="record-audit"),
    path("sites/<str:site>/history/", views.site_history, name="site-audit"),
    path("sites/<str:site>/history/<str:kind>/<path:key>/", views.site_record_history, name="site-record-audit"),
]
