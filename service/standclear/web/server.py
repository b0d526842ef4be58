"""The production server: gunicorn's threaded worker, run in this very process.

Why without gunicorn's arbiter: there may be one process only (one owner of the camera), and killing
that process must end everything at once, so that the library's lock is free for the next start.
systemd or the person restarts it.

What is added to the worker, each with its reason:
- a connection waits for its first byte in the poller, not in a thread (a thousand idle ones cost
  no thread);
- a request must have come whole within a limit, else its socket is shut (slow senders); while many
  threads wait for senders, the limit is a second;
- on SIGTERM and SIGINT it says farewell: viewers and listeners are let go, a picture in progress is
  finished, and it leaves within a second;
- with TLS, a connection's first byte tells whether it is HTTPS or plain HTTP: both are served at
  one port, and the application sees which by the scheme.
"""

import os
import selectors
import signal
import socket
import ssl
import threading
import time
from collections.abc import Callable, MutableMapping
from functools import partial
from typing import Any

from gunicorn.config import Config
from gunicorn.glogging import Logger
from gunicorn.workers.gthread import TConn, ThreadWorker

from standclear.web.tls import TlsSocket, speaks_tls
from standclear.web.whole import READ_WHOLE, STILL_COMING

THREADS = 192
CONNECTIONS = 1500
READ_WITHIN_S = 10
CROWDED = THREADS // 2
READ_WITHIN_CROWDED_S = 1.0
#: After these the rest of the body may lie in the line still: it cannot carry another request.
BODY_UNREAD = ("408", "413")
UNACKNOWLEDGED_MS = 20_000
KEEPALIVE_S = 15
LEAVE_WITHIN_S = 1


class _Application:
    """What a worker wants of an application: its WSGI callable."""

    def __init__(self, wsgi: Callable[..., Any]) -> None:
        self._wsgi = wsgi

    def wsgi(self) -> Callable[..., Any]:
        return self._wsgi


class Connection(TConn):  # type: ignore[misc]
    """A connection that may turn out to be HTTPS."""

    sock: Any

    def __init__(self, *args: Any, tls: ssl.SSLContext | None) -> None:
        super().__init__(*args)
        self._context = tls

    def init(self) -> None:
        """Look at its first byte, which has come; agree on keys where it is a handshake's."""
        if not self.initialized and self._context is not None and speaks_tls(self.sock):
            self.sock = TlsSocket(self.sock, self._context)
            self.sock.handshake()
        super().init()


class Worker(ThreadWorker):  # type: ignore[misc]
    """The threaded worker with the additions that the module's first lines name."""

    def __init__(
        self,
        *args: Any,
        farewell: Callable[[], None],
        tls: ssl.SSLContext | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self._farewell = farewell
        self._tls = tls
        self._reading: dict[int, tuple[float, Any]] = {}

    def init_signals(self) -> None:
        """SIGINT (Ctrl-C) leaves as politely as SIGTERM."""
        super().init_signals()
        signal.signal(signal.SIGINT, self.handle_exit)
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)

    def handle_exit(self, sig: int, frame: Any) -> None:
        """Say farewell beside the main loop, which goes on delivering the last answers."""
        if self.alive:
            threading.Thread(target=self._farewell, name="farewell", daemon=True).start()
        super().handle_exit(sig, frame)

    def accept(self, listener: Any) -> None:
        """Let a new connection wait for its first byte in the poller."""
        try:
            client, address = listener.accept()
        except OSError:
            return
        _expect_answers(client)
        self.nr_conns += 1
        conn = Connection(self.cfg, client, address, listener.getsockname(), tls=self._tls)
        conn.set_timeout()
        self.pending_conns.append(conn)
        self.poller.register(
            conn.sock, selectors.EVENT_READ, partial(self.on_pending_socket_readable, conn)
        )

    def handle(self, conn: Any) -> Any:
        """Serve one request, with a limit on how long it may take to come in."""
        key = id(conn)
        self._reading[key] = (time.monotonic() + READ_WITHIN_S, conn)
        try:
            return super().handle(conn)
        finally:
            self._reading.pop(key, None)

    def handle_request(self, req: Any, conn: Any) -> Any:
        """The head has come; the application says when the body has, too."""
        self._told_whole.done = partial(self._reading.pop, id(conn), None)
        self._told_whole.more = partial(self._wait_anew, conn)
        self._told_whole.last = req.force_close
        if self._tls is not None:
            req.scheme = "https" if isinstance(conn.sock, TlsSocket) else "http"
        return super().handle_request(req, conn)

    def _wait_anew(self, conn: Any) -> None:
        """A piece of a large body has come: the next one has as long again."""
        if id(conn) in self._reading:
            self._reading[id(conn)] = (time.monotonic() + READ_WITHIN_S, conn)

    wsgi: Any
    _told_whole = threading.local()

    def load_wsgi(self) -> None:
        """Give the application a way to say that the request has come whole."""
        super().load_wsgi()
        inner = self.wsgi

        def wsgi(environ: MutableMapping[str, Any], start_response: Any) -> Any:
            environ[READ_WHOLE] = getattr(self._told_whole, "done", lambda: None)
            environ[STILL_COMING] = getattr(self._told_whole, "more", lambda: None)
            return inner(environ, self._closing(start_response))

        self.wsgi = wsgi

    def _closing(self, start_response: Any) -> Any:
        """Say, and mean, that the connection ends with an answer that left the body unread."""

        def started(status: str, *rest: Any) -> Any:
            if status[:3] in BODY_UNREAD:
                self._told_whole.last()
            return start_response(status, *rest)

        return started

    def murder_pending(self) -> None:
        """Close what never spoke, and shut what speaks too slowly."""
        super().murder_pending()
        now = time.monotonic()
        crowded = len(self._reading) > CROWDED  # a quick sender is done in a moment
        less = READ_WITHIN_S - READ_WITHIN_CROWDED_S if crowded else 0.0
        for key, (deadline, conn) in list(self._reading.items()):
            if deadline - less < now:
                self._reading.pop(key, None)
                _shut(conn.sock)

    def wait_for_and_dispatch_events(self, timeout: float) -> None:
        """While leaving, look often: the last second is short."""
        if not self.alive:
            timeout = min(timeout, 0.05)
            self.murder_keepalived(force=not self.tpool._work_queue.qsize())
        super().wait_for_and_dispatch_events(timeout)


def _expect_answers(client: socket.socket) -> None:
    """Send at once; give a connection up when nothing was acknowledged for some time: a phone that
    went out of reach says no goodbye, and would keep its thread for a quarter of an hour."""
    client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    if hasattr(socket, "TCP_USER_TIMEOUT"):  # Linux
        client.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, UNACKNOWLEDGED_MS)


def _shut(sock: Any) -> None:
    try:
        sock.shutdown(socket.SHUT_RDWR)
    except OSError:
        return


def listen(host: str, port: int) -> socket.socket:
    """A listening socket; port 0 takes a free one. Raises OSError."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if family == socket.AF_INET6:
        listener.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 0)
    listener.bind((host, port))
    listener.listen(512)
    return listener


def _config(ready: Callable[[], None], tls: ssl.SSLContext | None) -> Config:
    """gunicorn's settings: its limits on a request's head, and ours on threads and time."""
    config = Config()
    config.set("threads", THREADS)
    config.set("worker_connections", CONNECTIONS)
    config.set("keepalive", KEEPALIVE_S)
    config.set("graceful_timeout", LEAVE_WITHIN_S)
    config.set("limit_request_line", 4094)
    config.set("limit_request_fields", 64)
    config.set("limit_request_field_size", 8190)
    config.set("loglevel", "warning")
    config.set("sendfile", tls is None)  # TLS has to see what is sent
    config.set("post_worker_init", lambda _worker: ready())
    return config


def serve(
    wsgi: Callable[..., Any],
    listener: socket.socket,
    *,
    ready: Callable[[], None],
    farewell: Callable[[], None],
    tls: ssl.SSLContext | None = None,
) -> None:
    """Serve until SIGTERM or SIGINT. ``ready`` is called once requests are taken; ``farewell`` in
    a thread of its own when the service is to stop, after which this returns. With ``tls``, HTTPS
    and HTTP are served at the one port."""
    config = _config(ready, tls)
    done = threading.Event()

    def say_farewell() -> None:
        try:
            farewell()
        finally:
            done.set()

    worker = Worker(
        0,
        os.getppid(),
        [listener],
        _Application(wsgi),
        30,
        config,
        Logger(config),
        farewell=say_farewell,
        tls=tls,
    )
    worker.pid = os.getpid()
    worker.init_process()
    done.wait(LEAVE_WITHIN_S)
