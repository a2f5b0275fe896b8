"""
HTTPS in a plant's own network: an authority of this server's own, and a certificate for the names it answers to.

Browsers let a page keep records offline only over HTTPS. Where nobody runs an authority, the server makes one, once;
its certificate is put on each phone and tablet by hand. It may vouch for the names it was made for and for no others,
so that whoever steals its key can pretend to be this server, and nothing else.
"""

from __future__ import annotations

import ipaddress
import os
import ssl
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_DAYS = 3650
CERTIFICATE_DAYS = 397
"""Longest that browsers accept of an authority they know (CA/Browser Forum, baseline requirements 6.3.2, 2020)."""

RENEW_DAYS = 30
"""Days before its end at which the certificate is made anew, at a start of the server."""


class NameProblem(ValueError):  # noqa: N818 - reads as what it is
    """A name cannot be one people reach a server by; the message says what is wanted."""


@dataclass(frozen=True, slots=True)
class OwnHttps:
    """
    What a server needs to answer over HTTPS.

    Attributes
    ----------
    authority : Path
        The certificate to put on the devices.
    fingerprint : str
        Its SHA-256, as the devices show it.
    certificate, key : Path
        The server's own.
    said : str
        What was made, in words; empty when all was there.
    """

    authority: Path
    fingerprint: str
    certificate: Path
    key: Path
    said: str

    def context(self) -> ssl.SSLContext:
        """Return what a listening socket needs; TLS 1.2 and above."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.load_cert_chain(self.certificate, self.key)
        return context


def own_https(home: Path, names: Sequence[str], *, now: datetime | None = None) -> OwnHttps:
    """
    Find the authority and the certificate for these names, making what is missing or runs out.

    Parameters
    ----------
    home : Path
        Folder of the server; all is kept in ``https`` in it, the keys readable by their owner only.
    names : sequence of str
        Host names and addresses people type. [-]
    now : datetime, optional
        The instant; for tests.

    Raises
    ------
    NameProblem
        There is no name, or one is none.
    """
    wanted = [_general_name(name) for name in dict.fromkeys(names)]
    if not wanted:
        raise NameProblem("Name at least one host name or address people will type, such as lapel.plant.example")
    now = now or datetime.now(UTC)
    folder = home / "https"
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)
    said = []
    if not _holds(folder / "authority.crt", wanted, until=now + timedelta(days=CERTIFICATE_DAYS), constrained=True):
        _make_authority(folder, wanted, now)
        said.append("An authority was made: put it on every device before the first use.")
    issuer = x509.load_pem_x509_certificate((folder / "authority.crt").read_bytes())
    lasts = _holds(folder / "server.crt", wanted, until=now + timedelta(days=RENEW_DAYS), issued_by=issuer)
    if not lasts:
        _make_certificate(folder, wanted, now)
        said.append(f"A certificate was made for {', '.join(names)}, for {CERTIFICATE_DAYS} days.")
    print_of_it = issuer.fingerprint(hashes.SHA256()).hex(":").upper()
    return OwnHttps(folder / "authority.crt", print_of_it, folder / "server.crt", folder / "server.key", " ".join(said))


def _general_name(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        pass
    letters = name.replace("-", "a").replace(".", "a")
    if not name or len(name) > 253 or not letters.isascii() or not letters.isalnum():
        raise NameProblem(f"“{name}” is no host name or address; wanted one people type, such as lapel.plant.example")
    return x509.DNSName(name.lower())


def _holds(
    path: Path,
    wanted: Sequence[x509.GeneralName],
    *,
    until: datetime,
    constrained: bool = False,
    issued_by: x509.Certificate | None = None,
) -> bool:
    """Whether a certificate is there, covers the names, lasts long enough and is of this authority."""
    if not path.exists():
        return False
    found = x509.load_pem_x509_certificate(path.read_bytes())
    if found.not_valid_after_utc < until:
        return False
    if issued_by is not None:
        try:
            found.verify_directly_issued_by(issued_by)
        except (ValueError, TypeError, InvalidSignature):  # of another authority
            return False
    extensions = found.extensions
    if constrained:
        permitted = extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
        return all(_constraint(name) in permitted for name in wanted)
    return set(extensions.get_extension_for_class(x509.SubjectAlternativeName).value) == set(wanted)


def _constraint(name: x509.GeneralName) -> x509.GeneralName:
    if isinstance(name, x509.IPAddress):
        return x509.IPAddress(ipaddress.ip_network(str(name.value)))
    return name


def _make_authority(folder: Path, names: Sequence[x509.GeneralName], now: datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Lapel on {_text(names[0])}, made {now:%Y-%m-%d}")])
    certificate = (
        _builder(subject, subject, key.public_key(), now, AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(certificates=True), critical=True)
        .add_extension(x509.NameConstraints([_constraint(name) for name in names], None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write_key(folder / "authority.key", key)
    (folder / "authority.crt").write_bytes(certificate.public_bytes(serialization.Encoding.PEM))


def _make_certificate(folder: Path, names: Sequence[x509.GeneralName], now: datetime) -> None:
    issuer = x509.load_pem_x509_certificate((folder / "authority.crt").read_bytes())
    issuer_key = serialization.load_pem_private_key((folder / "authority.key").read_bytes(), None)
    assert isinstance(issuer_key, ec.EllipticCurvePrivateKey)
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, _text(names[0]))])
    certificate = (
        _builder(subject, issuer.subject, key.public_key(), now, CERTIFICATE_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key()), critical=False)
        .sign(issuer_key, hashes.SHA256())
    )
    _write_key(folder / "server.key", key)
    (folder / "server.crt").write_bytes(certificate.public_bytes(serialization.Encoding.PEM))


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey, now: datetime, days: int
) -> x509.CertificateBuilder:
    """Begin a day early: the clock of a phone may be behind."""
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=days - 1))
    )


def _usage(*, certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not certificates,
        key_cert_sign=certificates,
        crl_sign=certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _text(name: x509.GeneralName) -> str:
    return str(name.value)[:40]


def _write_key(path: Path, key: ec.EllipticCurvePrivateKey) -> None:
    content = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    path.unlink(missing_ok=True)
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:  # noqa: PTH123 - the mode
        file.write(content)
