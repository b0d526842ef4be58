"""Where the second copy is to lie, from what the host was given: a folder, or an address.

``/media/cork/copy``, ``sftp://user@host:22/folder``, ``s3://bucket/folder``. Secrets belong in what
the machine keeps them in already (an ssh agent or key, the S3 tools' own environment and files);
one that stands in the address is used, and never shown, logged or written down.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import fsspec

from standclear.errors import Invalid
from standclear.library.mirror.failures import PlaceRefuses

#: Seconds until a server that is silent counts as gone.
PATIENCE_S = 15


@dataclass(frozen=True, slots=True)
class Address:
    """A parsed address. ``shown`` is what people may see; ``root`` the path within ``protocol``."""

    protocol: str
    root: str
    shown: str
    options: Mapping[str, Any] = field(default_factory=dict, repr=False)

    @property
    def folder(self) -> Path | None:
        """The folder on this machine; ``None`` for a place elsewhere."""
        return Path(self.root) if self.protocol == "file" else None


def parse(text: str) -> Address:
    """Read an address. Raises :class:`Invalid`, without repeating what may be a secret."""
    scheme, separator, _ = text.partition("://")
    if not separator:
        return _folder(text)
    reader = _READERS.get(scheme)
    if reader is None:
        known = ", ".join(f"{name}://" for name in _READERS)
        raise Invalid(f"A second copy goes to a folder or to one of {known}.")
    return reader(text)


def _folder(text: str) -> Address:
    path = Path(text.removeprefix("file://")).expanduser()
    if not text or not path.is_absolute():
        raise Invalid("Give the folder of the second copy as a full path, from / on.")
    return Address("file", str(path), str(path))


def _sftp(text: str) -> Address:
    parts = urlsplit(text)
    host, root, port = parts.hostname, unquote(parts.path).rstrip("/"), _port(text)
    if not host or not root:
        raise Invalid("An SFTP address is sftp://user@host/folder.")
    options: dict[str, Any] = {
        "host": host,
        "known_hosts": (),  # as ssh itself: only a server whose key is known
        "connect_timeout": PATIENCE_S,
        "login_timeout": PATIENCE_S,
        "keepalive_interval": PATIENCE_S / 3,
        "keepalive_count_max": 3,
    }
    given = {"port": port, "username": parts.username, "password": parts.password}
    options |= {k: unquote(v) if isinstance(v, str) else v for k, v in given.items() if v}
    where = f"{host}:{port}" if port else host
    return Address("sftp", root, f"sftp://{where}{root}", options)


def _port(text: str) -> int | None:
    try:
        return urlsplit(text).port
    except ValueError as error:
        raise Invalid("The port in the address of the second copy is no port.") from error


def _s3(text: str) -> Address:
    parts = urlsplit(text)
    bucket, root = parts.hostname, parts.path.strip("/")
    if not bucket or parts.username or parts.password:
        raise Invalid(
            "An S3 address is s3://bucket/folder; keys and the server's own address go into the "
            "environment (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY, AWS_ENDPOINT_URL)."
        )
    options = {
        "use_listings_cache": False,
        "config_kwargs": {
            "connect_timeout": PATIENCE_S,
            "read_timeout": PATIENCE_S,
            "retries": {"max_attempts": 1},
        },
    }
    path = f"{bucket}/{root}".rstrip("/")
    return Address("s3", path, f"s3://{path}", options)


def must_be_apart(address: Address, library: Path) -> None:
    """Raises :class:`Invalid` where the copy would lie within the library, or about it."""
    if address.folder is None:
        return
    there, here = address.folder.resolve(), library.resolve()
    if there.is_relative_to(here) or here.is_relative_to(there):
        raise Invalid(f"The second copy {there} and the library {here} must lie apart.")


_READERS: Mapping[str, Callable[[str], Address]] = {"sftp": _sftp, "s3": _s3, "file": _folder}


def file_system(address: Address) -> Any:
    """A new fsspec file system for it, with a connection of its own.

    Raises :class:`PlaceRefuses` where the extra that speaks with it is not installed.
    """
    # The name under which fsspec knows sshfs; its own "sftp" takes any server's key.
    protocol = {"sftp": "ssh"}.get(address.protocol, address.protocol)
    if protocol == "ssh":
        from sshfs import SSHFileSystem  # noqa: PLC0415 - an extra

        fsspec.register_implementation("ssh", SSHFileSystem, clobber=True)
    made = fsspec.filesystem(protocol, skip_instance_cache=True, **address.options)
    if protocol == "s3":
        made.retries = 1  # when to try again is ours to say
    return made


def errors_of(address: Address) -> tuple[type[Exception], ...]:
    """What the library that speaks with the place raises beside errors of the system."""
    try:
        return _ERRORS[address.protocol]()
    except ImportError as error:
        raise PlaceRefuses(
            f"What speaks with {address.shown} is not installed: install standclear"
            f"[{address.protocol}]."
        ) from error


def _of_sftp() -> tuple[type[Exception], ...]:
    import asyncssh  # noqa: PLC0415 - an extra

    return (asyncssh.Error, asyncssh.KeyImportError)


def _of_s3() -> tuple[type[Exception], ...]:
    import aiohttp  # noqa: PLC0415 - an extra
    import s3fs  # noqa: F401, PLC0415 - an extra
    from botocore.exceptions import BotoCoreError, ClientError  # noqa: PLC0415 - an extra

    return (BotoCoreError, ClientError, aiohttp.ClientError)


_ERRORS: Mapping[str, Callable[[], tuple[type[Exception], ...]]] = {
    "file": lambda: (),
    "sftp": _of_sftp,
    "s3": _of_s3,
}
