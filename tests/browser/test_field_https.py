"""Over HTTPS with the plant's own certificate the page keeps itself for offline; over plain HTTP it says it cannot."""

import base64
import hashlib
import socket
import subprocess
import sys
import time

import chromium as browsers
import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from patience import PATIENCE_MS, PATIENCE_S, until
from playwright.sync_api import Error
from serving import environment, stopped

NAME = "lapel.plant.example"
"""A name that is no localhost: browsers trust it over HTTPS only. It leads to this machine in these tests."""


def served(home, *more):
    """Start `lapel serve` as a person does; its process and port, once it answers."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "lapel.cli.main", "serve", "--port", str(port), *more]
    process = subprocess.Popen(command, env=environment(home, LAPEL_HOSTS=NAME), stderr=subprocess.PIPE, text=True)
    said = ""
    while "Lapel answers at" not in said:
        line = process.stderr.readline()
        assert line, said
        said += line
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:  # the words come just before the door is open
        with socket.socket() as door:
            if door.connect_ex(("127.0.0.1", port)) == 0:
                return process, port, said
        time.sleep(0.05)
    raise AssertionError(f"nobody answers at port {port}: {said}")


def opened(playwright, profile, address, *flags):
    context = browsers.of_its_own(playwright, profile, f"--host-resolver-rules=MAP {NAME} 127.0.0.1", *flags)
    context.set_default_timeout(PATIENCE_MS)
    page = context.pages[0]
    return context, page, page.goto(address)


def test_the_service_worker_registers_with_the_plants_certificate(playwright, tmp_path):
    process, port, said = served(tmp_path / "home", "--https", NAME)
    try:
        authority = tmp_path / "home" / "https" / "authority.crt"
        assert str(authority) in said
        address = f"https://{NAME}:{port}/field/"
        with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
            opened(playwright, tmp_path / "stranger", address)
        # A person puts the authority on the phone; for a test's browser its certificate is named by its key instead.
        own = x509.load_pem_x509_certificate((authority.parent / "server.crt").read_bytes())
        key = own.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        named = base64.b64encode(hashlib.sha256(key).digest()).decode()
        trusting = f"--ignore-certificate-errors-spki-list={named}"
        context, page, answer = opened(playwright, tmp_path / "phone", address, trusting)
        assert answer.ok
        assert "max-age" in answer.headers["strict-transport-security"]
        assert page.evaluate("isSecureContext")
        until(page, "navigator.serviceWorker.controller !== null")
        stopped(process)
        page.reload()
        assert page.evaluate("document.getElementById('field') !== null")
        context.close()
    finally:
        stopped(process)


def test_over_plain_http_the_page_says_that_it_can_keep_nothing(playwright, tmp_path):
    process, port, _ = served(tmp_path / "home")
    try:
        context, page, answer = opened(playwright, tmp_path / "phone", f"http://{NAME}:{port}/field/")
        assert answer.ok
        assert page.evaluate("isSecureContext") is False
        until(page, "document.getElementById('field').innerText.toLowerCase().includes('https')")
        context.close()
    finally:
        stopped(process)
