"""Addresses of the equipment pages; a code may hold any sign, a slash too."""

from django.urls import path

from lapel.office.equipment import certificate_views, views

urlpatterns = [
    path("sites/<str:site>/equipment/", views.register, name="equipment"),
    path("sites/<str:site>/equipment/<str:kind>/new/", views.new, name="equipment-new"),
    path(
        "sites/<str:site>/equipment/meter/<path:code>/certificate/new/", certificate_views.new, name="certificate-new"
    ),
    path(
        "sites/<str:site>/equipment/meter/<path:code>/certificate/<int:number>/change/",
        certificate_views.change,
        name="certificate-change",
    ),
    path("sites/<str:site>/equipment/<str:kind>/<path:code>/change/", views.change, name="equipment-change"),
    path("sites/<str:site>/equipment/<str:kind>/<path:code>/", views.one, name="equipment-one"),
]
