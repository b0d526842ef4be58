"""TLS on a connection that one thread reads while others write to it.

OpenSSL's connection object may be used by one thread at a time, and a websocket's reader waits in
it for hours. So each step of it is taken without waiting and under a lock, and the waiting is done
outside. Reads take one record at a time, so that what has not been read yet still makes the socket
readable.
"""

import contextlib
import errno
import select
import socket
import ssl
import threading
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")

RECORD = 16_384
_HANDSHAKE = b"\x16"  # the first byte of a TLS connection (RFC 8446, 5.1); no HTTP method has it
_LOOK_MS = 5_000


def speaks_tls(sock: socket.socket) -> bool:
    """Whether the first byte that waits on a socket opens a TLS handshake."""
    return sock.recv(1, socket.MSG_PEEK) == _HANDSHAKE


class TlsSocket:
    """As much of a socket as the server and the websockets use. Takes the socket over."""

    def __init__(self, sock: socket.socket, context: ssl.SSLContext) -> None:
        self._tls = context.wrap_socket(sock, server_side=True, do_handshake_on_connect=False)
        self._tls.setblocking(False)
        self._timeout: float | None = None
        self._engine = threading.Lock()
        self._one_writer = threading.Lock()

    def handshake(self) -> None:
        """Agree on keys. Raises OSError; a client that does not trust us is gone, not an error."""
        try:
            self._drive(self._tls.do_handshake)
        except ssl.SSLError as error:
            raise ConnectionResetError(errno.ECONNRESET, f"no TLS: {error.reason}") from error

    def recv(self, size: int, flags: int = 0) -> bytes:
        """What has come, at most ``size`` bytes; empty at the end."""
        _no_flags(flags)
        try:
            return self._drive(lambda: self._tls.recv(size))
        except ssl.SSLError as error:
            raise ConnectionResetError(errno.ECONNRESET, f"TLS broke: {error.reason}") from error

    def sendall(self, data: bytes | memoryview, flags: int = 0) -> None:
        """Send all of it."""
        _no_flags(flags)
        rest = memoryview(data)
        with self._one_writer:
            while rest:
                rest = rest[self._send_some(rest[:RECORD]) :]

    def send(self, data: bytes | memoryview, flags: int = 0) -> int:
        """As :meth:`sendall`; ValueError with flags, which TLS cannot obey."""
        self.sendall(data, flags)
        return len(data)

    def _send_some(self, part: memoryview) -> int:
        try:
            return self._drive(lambda: self._tls.send(part))
        except ssl.SSLError as error:
            raise BrokenPipeError(errno.EPIPE, f"TLS broke: {error.reason}") from error

    def _drive(self, step: Callable[[], T]) -> T:
        """Take the step as soon as the socket is ready for it."""
        while True:
            with self._engine:
                try:
                    return step()
                except ssl.SSLWantReadError:
                    awaited = select.POLLIN
                except ssl.SSLWantWriteError:
                    awaited = select.POLLOUT
            self._wait(awaited)

    def _wait(self, awaited: int) -> None:
        poll = select.poll()
        poll.register(self._tls, awaited)
        limit = _LOOK_MS if self._timeout is None else self._timeout * 1000
        while not poll.poll(limit):
            if self._timeout is not None:
                raise TimeoutError(errno.ETIMEDOUT, "nothing came in time")
            if self._tls.fileno() < 0:
                raise OSError(errno.EBADF, "the socket was closed")

    def setblocking(self, flag: bool) -> None:
        """Whether calls wait."""
        self._timeout = None if flag else 0.0

    def settimeout(self, seconds: float | None) -> None:
        """How long calls wait at most; ``None`` for as long as it takes."""
        self._timeout = seconds

    def gettimeout(self) -> float | None:
        """How long calls wait at most."""
        return self._timeout

    def shutdown(self, how: int) -> None:
        """Shut the connection beneath; who waits in it is woken."""
        if how == socket.SHUT_WR:
            self._say_goodbye()
        socket.socket.shutdown(self._tls, how)

    def _say_goodbye(self) -> None:
        """Tell the other that this is the end, and no cut (RFC 8446, 6.1); wait for no answer."""
        with self._engine, contextlib.suppress(OSError, ValueError):
            self._tls.unwrap()

    def close(self) -> None:
        """Close it; never raises."""
        try:
            self._tls.close()
        except OSError:
            return

    def fileno(self) -> int:
        """For selectors."""
        return self._tls.fileno()

    def getsockname(self) -> object:
        """Our address."""
        return self._tls.getsockname()

    def getpeername(self) -> object:
        """The other's address."""
        return self._tls.getpeername()

    def setsockopt(self, *option: int) -> None:
        """Set an option of the socket beneath."""
        self._tls.setsockopt(*option)


def _no_flags(flags: int) -> None:
    if flags:
        raise ValueError("TLS takes no flags")
