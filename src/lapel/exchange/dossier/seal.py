"""
The seal of a dossier: a hash over every byte, and a signature over the hash.

It stands in the comment of the zip, its last bytes: the SHA-256 (FIPS 180-4) of everything before the comment, and
where it is signed the Ed25519 public key and signature (RFC 8032). No byte of the file can change without the seal
showing it. Who a key belongs to, no file can prove: its fingerprint must be known from elsewhere.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

_FIRST_LINE = "lapel dossier seal 1"
_SEAL = re.compile(rf"{_FIRST_LINE}\nsha256 ([0-9a-f]{{64}})\n(?:ed25519 ([0-9a-f]{{64}}) ([0-9a-f]{{128}})\n)?")
_SIGNED = b"lapel dossier 1\n"
_AT_ONCE = 1 << 20


class Unsealed(ValueError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A file has no seal that can be read."""


@dataclass(frozen=True, slots=True)
class Seal:
    """
    A seal as it stands in a file.

    Attributes
    ----------
    sha256 : str
        Hash of everything before it, as stated.
    public_key, signature : str
        Hexadecimal; empty where it is not signed.
    """

    sha256: str
    public_key: str = ""
    signature: str = ""

    def text(self) -> bytes:
        """Write the seal."""
        signed = f"ed25519 {self.public_key} {self.signature}\n" if self.public_key else ""
        return f"{_FIRST_LINE}\nsha256 {self.sha256}\n{signed}".encode("ascii")

    @property
    def fingerprint(self) -> str:
        """Short name of the key, to be compared by eye: the first 32 digits of its SHA-256, in fours."""
        return fingerprint(self.public_key)

    def signature_holds(self) -> bool:
        """Whether the signature was made over this hash with the key of the seal."""
        try:
            key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(self.public_key))
            key.verify(bytes.fromhex(self.signature), _SIGNED + bytes.fromhex(self.sha256))
        except (InvalidSignature, ValueError):
            return False
        return True


def fingerprint(public_key: str) -> str:
    """Short name of a key; empty for none."""
    if not public_key:
        return ""
    digits = hashlib.sha256(bytes.fromhex(public_key)).hexdigest()[:32]
    return " ".join(digits[at : at + 4] for at in range(0, 32, 4))


def new_key() -> bytes:
    """Make a signing key, as PEM; whoever holds it can sign in its owner's name."""
    return Ed25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def fingerprint_of_key(private_pem: bytes) -> str:
    """
    Short name of a signing key.

    Raises
    ------
    ValueError
        The key is not an Ed25519 key in PEM.
    """
    return fingerprint(public_key_text(private_pem))


def public_key_text(private_pem: bytes) -> str:
    """Public half of a signing key, in hexadecimal."""
    return _public(_private(private_pem))


def sealed(sha256: str, private_pem: bytes | None) -> Seal:
    """
    Make the seal for a hash.

    Raises
    ------
    ValueError
        The key is not an Ed25519 key in PEM.
    """
    if private_pem is None:
        return Seal(sha256)
    key = _private(private_pem)
    return Seal(sha256, _public(key), key.sign(_SIGNED + bytes.fromhex(sha256)).hex())


def length_of_seal(private_pem: bytes | None) -> int:
    """Bytes a seal takes; known before the hash is."""
    return len(Seal("0" * 64, *(("0" * 64, "0" * 128) if private_pem is not None else ())).text())


def read_seal(path: Path, comment: bytes) -> tuple[Seal, str]:
    """
    Read the seal of a file and hash what it covers.

    Returns
    -------
    Seal, str
        What is stated, and the hash found.

    Raises
    ------
    Unsealed
        The comment is no seal, or is not the end of the file.
    """
    try:
        found = _SEAL.fullmatch(comment.decode("ascii"))
    except UnicodeDecodeError:
        found = None
    if found is None:
        raise Unsealed("its last bytes are no seal of a dossier")
    covered = path.stat().st_size - len(comment)
    digest = hashlib.sha256()
    with path.open("rb") as file:
        left = covered
        while left:
            part = file.read(min(_AT_ONCE, left))
            if not part:
                raise Unsealed("it ends before its seal")
            digest.update(part)
            left -= len(part)
        if file.read() != comment:
            raise Unsealed("bytes stand after its seal")
    return Seal(found[1], found[2] or "", found[3] or ""), digest.hexdigest()


def _private(pem: bytes) -> Ed25519PrivateKey:
    try:
        key = load_pem_private_key(pem, password=None)
    except (ValueError, TypeError) as problem:
        raise ValueError("the signing key is no unencrypted PEM key") from problem
    if not isinstance(key, Ed25519PrivateKey):
        raise ValueError(f"the signing key is of the kind {type(key).__name__}; wanted Ed25519")
    return key


def _public(key: Ed25519PrivateKey) -> str:
    return key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()
