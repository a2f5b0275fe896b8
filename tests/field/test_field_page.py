"""The page as it is served: by content, whole, without a session, and always the version it says it is."""

import json
import re

import pytest
from django.test import Client

from lapel.field.edition import current_edition, made_edition


@pytest.fixture
def visitor():
    return Client(raise_request_exception=True)


def addresses(text):
    return re.findall(r'(?:href|src)="([^"]+)"', text)


@pytest.mark.parametrize("path", ["/field/", "/field/pair", "/field/sw.js", "/field/app.webmanifest"])
def test_the_page_and_its_worker_are_asked_for_by_content_each_time(visitor, path):
    answer = visitor.get(path)
    assert answer.status_code == 200
    assert answer["Cache-Control"] == "no-cache"
    assert "Last-Modified" not in answer  # a package's files all bear one date
    again = visitor.get(path, headers={"If-None-Match": answer["ETag"]})
    assert again.status_code == 304
    assert again["ETag"] == answer["ETag"]
    assert not answer.cookies


def test_the_manifest_says_what_a_browser_asks_of_a_page_to_be_installed(visitor):
    """Web Application Manifest, W3C: a name, a start within the scope, a display of its own, an icon of any size."""
    assert "/field/app.webmanifest" in addresses(visitor.get("/field/").content.decode())
    answer = visitor.get("/field/app.webmanifest")
    assert answer["Content-Type"] == "application/manifest+json"
    said = json.loads(answer.content)
    assert said["name"]
    assert said["short_name"]
    assert said["start_url"].startswith(said["scope"])
    assert visitor.get(said["start_url"]).status_code == 200
    assert said["display"] == "standalone"
    [icon] = said["icons"]
    assert icon["sizes"] == "any"
    assert visitor.get(icon["src"]).status_code == 200


def test_no_inline_script_or_style_is_on_the_page_and_none_is_allowed(visitor):
    answer = visitor.get("/field/")
    text = answer.content.decode()
    assert not re.findall(r"<script(?![^>]*\bsrc=)", text)
    assert "style=" not in text
    assert "<style" not in text
    policy = answer["Content-Security-Policy"]
    assert "'unsafe" not in policy
    assert "default-src 'none'" in policy


def test_every_file_the_page_names_is_there_and_kept_for_good(visitor):
    names = [one for one in addresses(visitor.get("/field/").content.decode()) if one.startswith("/field/at/")]
    assert len(names) > 20
    for name in names:
        answer = visitor.get(name)
        assert answer.status_code == 200, name
        assert "immutable" in answer["Cache-Control"]
        assert answer["Content-Type"].split(";")[0] in ("text/javascript", "text/css", "image/svg+xml")


def test_the_worker_keeps_exactly_the_files_of_its_version(visitor):
    text = visitor.get("/field/sw.js").content.decode()
    said = json.loads(re.match(r"self\.LAPEL = (.*);\n", text).group(1))
    assert said["version"] == current_edition().version
    for address in said["files"]:
        assert visitor.get(address).status_code == 200, address
    modules = {one for one in said["files"] if one.endswith(".js")}
    opened = {one for one in addresses(visitor.get("/field/").content.decode()) if one.endswith(".js")}
    later = {one.partition(f"/{said['version']}/")[2] for one in modules - opened}
    assert opened <= modules
    assert later == {"vendor/qr/decode.js", "vendor/qr/index.js"}  # for the camera, when it is opened
    assert not any("/api/" in address or address.endswith(("worker.js", ".d.ts")) for address in said["files"])


def test_every_module_imports_only_what_the_worker_keeps():
    files = current_edition().files
    for name, content in files.items():
        if name.endswith(".js"):
            text = content.decode()
            static = re.findall(r"^(?:import|export)[^;]*?from '([^']+)'", text, re.MULTILINE)
            for target in [*static, *re.findall(r"await import\('([^']+)'\)", text)]:
                folder = name.split("/")[:-1]
                parts = [*folder]
                for step in target.split("/"):
                    if step == "..":
                        parts.pop()
                    elif step != ".":
                        parts.append(step)
                assert "/".join(parts) in files, f"{name} imports {target}"


def test_a_changed_file_is_another_version_and_the_same_files_the_same():
    one = made_edition()
    assert made_edition() == one
    other = made_edition({"start.js": b"changed"})
    assert other.version != one.version
    assert other.worker != one.worker
    assert other.page != one.page


def test_a_file_of_another_version_is_not_there(visitor):
    version = current_edition().version
    assert visitor.get(f"/field/at/{version}/start.js").status_code == 200
    assert visitor.get("/field/at/0123456789abcdef0123/start.js").status_code == 404
    assert visitor.get(f"/field/at/{version}/../../settings.py").status_code == 404
    assert visitor.get(f"/field/at/{version}/worker.js").status_code == 404


def test_somebody_who_has_to_give_a_second_factor_opens_the_page_all_the_same(db, visitor):
    from django.contrib.auth.models import User

    visitor.force_login(User.objects.create_user("lead"))
    answer = visitor.get("/field/")
    assert answer.status_code == 200
    assert answer["Cache-Control"] == "no-cache"


def test_the_page_only_answers_those_who_read(visitor):
    assert visitor.post("/field/").status_code == 405
    assert visitor.post("/field/sw.js").status_code == 405
