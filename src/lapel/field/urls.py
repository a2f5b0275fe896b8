"""Addresses of the field page and of its interface."""

from django.http import HttpRequest, JsonResponse
from django.urls import URLPattern, URLResolver, path, re_path
from django.views.decorators.csrf import csrf_exempt

from lapel.field import pack_route, page, pairing


@csrf_exempt
def no_such_address(request: HttpRequest) -> JsonResponse:
    """404 in the interface's own form, for whatever else is asked under its address."""
    return JsonResponse({"detail": "There is no such address."}, status=404)


__all__ = ["pack_route", "urlpatterns"]  # importing a route puts it into the interface

urlpatterns: list[URLPattern | URLResolver] = [
    path("field/", page.page, name="field"),
    path("field/pair", page.page, name="field-pair"),
    path("field/sw.js", page.worker, name="field-worker"),
    path("field/app.webmanifest", page.manifest, name="field-manifest"),
    path("field/at/<str:version>/<path:name>", page.file, name="field-file"),
    path("api/v1/", pairing.api.urls),
    re_path(r"^api/", no_such_address),
]
