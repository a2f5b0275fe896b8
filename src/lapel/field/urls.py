"""Addresses of the field's interface."""

from django.http import HttpRequest, JsonResponse
from django.urls import URLPattern, URLResolver, path, re_path
from django.views.decorators.csrf import csrf_exempt

from lapel.field.api import api


@csrf_exempt
def no_such_address(request: HttpRequest) -> JsonResponse:
    """404 in the interface's own form, for whatever else is asked under its address."""
    return JsonResponse({"detail": "There is no such address."}, status=404)


urlpatterns: list[URLPattern | URLResolver] = [
    path("api/v1/", api.urls),
    re_path(r"^api/", no_such_address),
]
