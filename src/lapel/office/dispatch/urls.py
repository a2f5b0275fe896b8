"""Addresses of Dispatch; a parcel's number may hold any sign, a slash too."""

from django.urls import path

from lapel.office.dispatch import views

urlpatterns = [
    path("surveys/<str:survey>/dispatch/", views.parcels, name="survey-dispatch"),
    path("surveys/<str:survey>/dispatch/forms/<int:form>.<str:kind>", views.form_file, name="custody-form"),
    path("surveys/<str:survey>/dispatch/<path:parcel>/hand-over/", views.hand_over, name="hand-over"),
    path("surveys/<str:survey>/dispatch/<path:parcel>/labels.pdf", views.labels, name="parcel-labels"),
    path("surveys/<str:survey>/dispatch/<path:parcel>/issue/", views.issue_form, name="issue-form"),
    path("surveys/<str:survey>/dispatch/<path:parcel>/", views.parcel, name="survey-parcel"),
]
