"""Hands each new live picture to all viewers that wait for one, from a single thread.

Sixteen viewers cost sixteen sends, not sixteen threads woken at once to fight over the interpreter.
A send never waits here: what the socket does not take at once is finished by a thread of the
viewer's own, so a slow viewer delays nobody. A viewer that asks while a newer picture lies ready is
answered in its own thread at once.
"""

import socket
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from standclear.shooting.live import LiveFrame, LiveHub

WAIT_S = 1.0


class WholeSends:
    """A socket that sends each message whole: ``send`` may stop short on a full buffer, and the
    answer to a ping, sent by the reading thread, must not fall into the middle of a picture."""

    def __init__(self, sock: Any) -> None:
        self._sock = sock
        self._one_message = threading.Lock()

    def send(self, data: bytes) -> int:
        """Send all of it; waits for as long as that takes."""
        with self._one_message:
            self._sock.sendall(data)
        return len(data)

    def send_without_waiting(self, data: bytes, slow: Callable[[Callable[[], None]], Any]) -> None:
        """Send what goes at once; the rest is handed to ``slow`` as work to be done elsewhere."""
        if not self._one_message.acquire(blocking=False):
            slow(lambda: self._send_quietly(data))
            return
        try:
            sent = self._sock.send(data, socket.MSG_DONTWAIT)
        except (BlockingIOError, ValueError):  # full, or TLS, which takes no flags
            sent = 0
        except OSError:
            sent = len(data)  # it is gone; its reading thread finds out by itself
        if sent == len(data):
            self._one_message.release()
            return
        rest = memoryview(data)[sent:]
        slow(lambda: self._finish(rest))

    def _finish(self, rest: memoryview) -> None:
        try:
            self._sock.sendall(rest)
        except OSError:
            return  # it is gone; its reading thread finds out by itself
        finally:
            self._one_message.release()

    def _send_quietly(self, data: bytes) -> None:
        try:
            self.send(data)
        except OSError:
            return

    def __getattr__(self, name: str) -> Any:
        return getattr(self._sock, name)


class Viewer:
    """One viewer: its socket, what it has seen, how wide a picture it asks for."""

    def __init__(self, sock: WholeSends) -> None:
        self.sock = sock
        self.seen = 0
        self.width: int | None = None


class Postman:
    """Follows the live hub from its first viewer on."""

    def __init__(
        self, hub: LiveHub, message: Callable[[LiveFrame, int | None], bytes], most: int
    ) -> None:
        self._hub = hub
        self._message = message
        self._lock = threading.Lock()
        self._waiting: set[Viewer] = set()
        self._slow = ThreadPoolExecutor(max_workers=most, thread_name_prefix="slow-viewer")
        self._thread: threading.Thread | None = None

    def ask(self, viewer: Viewer) -> None:
        """The viewer wants a picture newer than the last it got: now, if there is one."""
        with self._lock:
            self._start()
            frame = self._hub.newest(viewer.seen)
            if frame is None:
                self._waiting.add(viewer)
                return
            viewer.seen = frame.seq
        viewer.sock.send(self._message(frame, viewer.width))

    def forget(self, viewer: Viewer) -> None:
        """The viewer has left."""
        with self._lock:
            self._waiting.discard(viewer)

    def _start(self) -> None:
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="postman", daemon=True)
            self._thread.start()

    def _run(self) -> None:
        seq = 0
        while not self._hub.closed:
            frame = self._hub.newer_than(seq, WAIT_S)
            if frame is not None:
                seq = frame.seq
                self._deliver(frame)
        self._slow.shutdown(wait=False, cancel_futures=True)

    def _deliver(self, frame: LiveFrame) -> None:
        with self._lock:
            due = [viewer for viewer in self._waiting if viewer.seen < frame.seq]
            self._waiting.difference_update(due)
            for viewer in due:
                viewer.seen = frame.seq
        for viewer in due:
            message = self._message(frame, viewer.width)
            viewer.sock.send_without_waiting(message, self._slow.submit)
