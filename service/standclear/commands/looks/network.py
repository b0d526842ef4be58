"""The port, the address for phones, the certificate."""

import errno
import http.client
import socket
from collections.abc import Iterator
from contextlib import suppress
from datetime import timedelta
from pathlib import Path

from standclear.clock import Clock
from standclear.commands.looks.finding import Finding
from standclear.errors import StandclearError

ANSWER_S = 2.0
SOON = timedelta(days=30)


def port(number: int) -> Iterator[Finding]:
    """Whether the port is free, ours already, or another program's."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as sock:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            sock.bind(("0.0.0.0", number))
        except PermissionError:
            says = f"Port {number} is for root alone; choose one from 1024 on with --port."
            yield Finding("port", "fault", says)
            return
        except OSError as error:
            yield _taken(number, error)
            return
    yield Finding("port", "well", f"Port {number} is free.")


def _taken(number: int, error: OSError) -> Finding:
    if error.errno != errno.EADDRINUSE:
        return Finding("port", "fault", f"Port {number} cannot be used: {error.strerror}.")
    if _is_ours(number):
        return Finding("port", "well", f"A Standclear service answers on port {number}.")
    says = f"Port {number} is taken by another program; end it, or choose another with --port."
    return Finding("port", "fault", says)


def _is_ours(number: int) -> bool:
    """Whether a service of ours answers there; one that serves HTTPS answers HTTP, too."""
    connection = http.client.HTTPConnection("127.0.0.1", number, timeout=ANSWER_S)
    with suppress(OSError, http.client.HTTPException, ValueError):
        connection.request("GET", "/api/v1/health")
        answer = connection.getresponse()
        body = answer.read(10_000)
        connection.close()
        return b'"version"' in body or answer.status in (301, 307, 308)
    connection.close()
    return False


def address(outward: str) -> Iterator[Finding]:
    """Whether phones can reach this computer at all."""
    if outward.startswith("127."):
        says = "This computer is on no network; a phone cannot reach it. Join the phone's Wi-Fi."
        yield Finding("network", "warning", says)
    else:
        says = f"Phones on the same network reach this computer at {outward}."
        yield Finding("network", "well", says)


def certificate(folder: Path, now: Clock, *, secure: bool) -> Iterator[Finding]:
    """The authority that phones trust, and the certificate that the service shows."""
    from standclear.secure import keeper
    from standclear.secure.authority import FILE as AUTHORITY
    from standclear.secure.files import read_pair

    try:
        authority, own = read_pair(folder / AUTHORITY), read_pair(folder / keeper.FILE)
    except (StandclearError, OSError) as error:
        says = error.detail if isinstance(error, StandclearError) else str(error)
        yield Finding("certificate", "fault" if secure else "warning", f"{says} Move it away.")
        return
    if authority is None:
        says = "There is none yet; the first start with --secure makes it."
        yield Finding("certificate", "well", says)
        return
    time, ends = now.now(), authority.certificate.not_valid_after_utc
    if time < authority.certificate.not_valid_before_utc:
        says = "The authority is not valid yet by this computer's clock; set the clock."
        yield Finding("certificate", "fault" if secure else "warning", says)
    elif ends < time + SOON:
        says = f"The authority ends on {ends:%Y-%m-%d}; the next start makes a new one, which each"
        yield Finding("certificate", "warning", f"{says} phone must be told to trust.")
    elif own is not None and own.certificate.not_valid_after_utc < time:
        says = f"The certificate ended on {own.certificate.not_valid_after_utc:%Y-%m-%d}; the next"
        yield Finding("certificate", "well", f"{says} start with --secure makes a new one.")
    else:
        yield Finding("certificate", "well", f"The authority is valid until {ends:%Y-%m-%d}.")
