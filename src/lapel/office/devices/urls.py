"""Addresses of the pages of a site's devices; a device's code may hold any sign."""

from django.urls import path

from lapel.office.devices import views

urlpatterns = [
    path("sites/<str:site>/devices/", views.devices, name="devices"),
    path("sites/<str:site>/devices/pair/", views.pair_new, name="device-new"),
    path("sites/<str:site>/devices/<path:device>/pair/", views.pair_again, name="device-pair"),
    path("sites/<str:site>/devices/<path:device>/pairing/<int:offer>/", views.pairing, name="device-pairing"),
    path("sites/<str:site>/devices/<path:device>/revoke/", views.revoke, name="device-revoke"),
]
