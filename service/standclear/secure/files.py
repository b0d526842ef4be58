"""A private key and its certificate in one file that nobody but its owner can read."""

import os
import secrets
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

from standclear.errors import StorageError

OWNER_ONLY = 0o600
FOLDER_MODE = 0o700


class CertificatesUnreadable(StorageError):
    """A file of keys and certificates is damaged or not ours."""

    code = "certificates_unreadable"
    title = "The certificates cannot be read"
    hint = "Move that file away; a new one is made, which phones must then be told to trust."


@dataclass(frozen=True, slots=True)
class Pair:
    """A key and the certificate over it."""

    key: EllipticCurvePrivateKey
    certificate: x509.Certificate

    def pem(self) -> bytes:
        """Both, as one PEM text (RFC 7468)."""
        encoding = serialization.Encoding.PEM
        return self.certificate.public_bytes(encoding) + self.key.private_bytes(
            encoding, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )


def read_pair(path: Path) -> Pair | None:
    """What the file holds, ``None`` where there is no file; others lose the right to read it.

    Raises :class:`CertificatesUnreadable`.
    """
    try:
        pem = path.read_bytes()
        if path.stat().st_mode & 0o077:
            path.chmod(OWNER_ONLY)
    except FileNotFoundError:
        return None
    try:
        certificate = x509.load_pem_x509_certificate(pem)
        key = serialization.load_pem_private_key(pem, None)
    except ValueError as error:
        raise CertificatesUnreadable(f"{path} holds no key with its certificate.") from error
    if not isinstance(key, EllipticCurvePrivateKey) or key.public_key() != certificate.public_key():
        raise CertificatesUnreadable(f"The key and the certificate in {path} do not fit together.")
    return Pair(key, certificate)


def write_pair(path: Path, pair: Pair) -> None:
    """Put it there, whole or not at all."""
    _written(path, pair.pem()).replace(path)


def write_pair_once(path: Path, pair: Pair) -> Pair:
    """Put it there unless another process was first; what is there now."""
    made = _written(path, pair.pem())
    try:
        path.hardlink_to(made)
    except FileExistsError:
        return read_pair(path) or pair
    finally:
        made.unlink()
    return pair


def _written(path: Path, data: bytes) -> Path:
    """A new file beside ``path``, flushed, for its owner alone from its first moment."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=FOLDER_MODE)
    made = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    descriptor = os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    return made
