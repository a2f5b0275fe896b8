"""Which address leads to which room."""

from django.urls import include, path

urlpatterns = [
    path("", include("lapel.field.urls")),
    path("", include("lapel.office.urls")),
]

handler400 = "lapel.office.faults.not_understood"
handler403 = "lapel.office.faults.not_allowed"
handler404 = "lapel.office.faults.nothing_here"
handler500 = "lapel.office.faults.our_fault"
