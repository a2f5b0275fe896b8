"""Write the OpenAPI of the sync interface, which a test holds against the one that answers: run this file."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path

PAGE = Path(__file__).parent / "reference" / "schemas" / "sync-api.openapi.json"


def main() -> None:
    """Write the file."""
    os.environ["LAPEL_HOME"] = tempfile.mkdtemp(prefix="lapel-docs-")
    os.environ["DJANGO_SETTINGS_MODULE"] = "lapel.site.settings"
    import django

    django.setup()
    from lapel.field.api import api

    PAGE.write_text(json.dumps(api.get_openapi_schema(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
