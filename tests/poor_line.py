"""A poor network between page and service: 5 % loss and 100 ms of delay.

`Netem` is the real thing: the kernel's network emulator on both ends of a cable into a network
namespace of the test's own. Where the kernel or the rights for that are missing, `Stalling` stands
in: it passes bytes on late, and holds a connection up where a lost segment would have. How long:
RFC 5681 (fast retransmit, about a round trip) and RFC 6298 (a retransmission timer of at least
0.2 s as Linux has it, 1 s for a connection that is being made).
"""

import asyncio
import contextlib
import os
import random
import shutil
import subprocess
import threading
from collections.abc import Iterator

DELAY_S = 0.1
LOSS = 0.05
SEGMENT = 1448  # bytes of payload on Ethernet
TIMER_S = 0.3
CONNECT_TIMER_S = 1.0
TAIL = 0.1  # of the losses are found by the timer only


class Stalling:
    """A TCP relay from ``listen`` to ``target`` (address, port), in a thread of its own."""

    def __init__(self, listen: tuple[str, int], target: tuple[str, int], seed: int = 7) -> None:
        self._listen, self._target = listen, target
        self._chance = random.Random(seed)
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._stop: asyncio.Event | None = None
        self._open: set[asyncio.StreamWriter] = set()
        self._thread = threading.Thread(target=self._run, name="poor-line", daemon=True)
        self.stalls = 0

    def __enter__(self) -> "Stalling":
        self._thread.start()
        assert self._ready.wait(10)
        return self

    def __exit__(self, *_: object) -> None:
        assert self._stop is not None
        self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(10)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.run_until_complete(self._serve())
        self._loop.close()

    async def _serve(self) -> None:
        self._stop = asyncio.Event()
        server = await asyncio.start_server(self._accept, *self._listen, limit=SEGMENT)
        self._ready.set()
        await self._stop.wait()
        server.close()
        tasks = asyncio.all_tasks() - {asyncio.current_task()}
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        for writer in self._open:
            writer.transport.abort()
        while any(writer.transport.get_extra_info("socket").fileno() >= 0 for writer in self._open):
            await asyncio.sleep(0)

    async def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(asyncio.CancelledError):  # the test is over
            await self._relay(reader, writer)

    async def _relay(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._open.add(writer)
        while self._lost():
            await asyncio.sleep(CONNECT_TIMER_S)
        await asyncio.sleep(DELAY_S)
        try:
            far_reader, far_writer = await asyncio.open_connection(*self._target)
        except OSError:
            writer.transport.abort()
            return
        self._open.add(far_writer)
        ways = ((reader, far_writer), (far_reader, writer))
        await asyncio.gather(*(self._one_way(*way) for way in ways), return_exceptions=True)
        for end in (writer, far_writer):
            end.close()

    async def _one_way(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Each segment arrives late and in order; a lost one holds up what follows."""
        queue: asyncio.Queue[tuple[float, bytes]] = asyncio.Queue(64)
        delivering = asyncio.ensure_future(self._deliver(queue, writer))
        held_until = 0.0
        try:
            while data := await reader.read(SEGMENT):
                at = max(self._loop.time(), held_until) + DELAY_S
                while self._lost():
                    at += TIMER_S if self._chance.random() < TAIL else 2 * DELAY_S
                held_until = at - DELAY_S
                await queue.put((at, data))
            await queue.put((held_until + DELAY_S, b""))
            await delivering
        finally:
            delivering.cancel()

    async def _deliver(
        self, queue: asyncio.Queue[tuple[float, bytes]], writer: asyncio.StreamWriter
    ) -> None:
        while True:
            at, data = await queue.get()
            await asyncio.sleep(max(0.0, at - self._loop.time()))
            if not data:
                if writer.can_write_eof():
                    writer.write_eof()
                return
            writer.write(data)
            await writer.drain()

    def _lost(self) -> bool:
        lost = self._chance.random() < LOSS
        self.stalls += lost
        return lost


class Netem:
    """A network namespace behind a cable with netem on both its ends."""

    OURS, THEIRS = "10.213.77.1", "10.213.77.2"

    def __init__(self) -> None:
        self.namespace = f"standclear{os.getpid()}"
        self.inside = ("ip", "netns", "exec", self.namespace)

    @staticmethod
    def missing() -> str:
        """Why it cannot be had here; empty where it can."""
        if os.geteuid() != 0:
            return "a network namespace needs root"
        for tool in ("ip", "tc", "unshare"):
            if shutil.which(tool) is None:
                return f"{tool} is not installed (Debian's package iproute2)"
        tried = subprocess.run(
            ["unshare", "-n", "tc", "qdisc", "add", "dev", "lo", "root", "netem", "delay", "1ms"],
            capture_output=True,
            text=True,
            check=False,
        )
        return "" if tried.returncode == 0 else f"tc netem: {tried.stderr.strip()}"

    @contextlib.contextmanager
    def up(self) -> Iterator["Netem"]:
        """Cable and namespace, taken down again at the end."""
        near, far = "standclear0", "standclear1"
        spoil = ("root", "netem", "delay", f"{DELAY_S * 1000:.0f}ms", "loss", f"{LOSS:.0%}")
        steps = (
            ("ip", "netns", "add", self.namespace),
            ("ip", "link", "add", "name", near, "type", "veth", "peer", "name", far),
            ("ip", "link", "set", far, "netns", self.namespace),
            ("ip", "addr", "add", f"{self.OURS}/24", "dev", near),
            ("ip", "link", "set", near, "up"),
            (*self.inside, "ip", "addr", "add", f"{self.THEIRS}/24", "dev", far),
            (*self.inside, "ip", "link", "set", far, "up"),
            (*self.inside, "ip", "link", "set", "lo", "up"),
            ("tc", "qdisc", "add", "dev", near, *spoil),
            (*self.inside, "tc", "qdisc", "add", "dev", far, *spoil),
        )
        try:
            for step in steps:
                subprocess.run(step, check=True, capture_output=True)
            yield self
        finally:
            subprocess.run(["ip", "netns", "del", self.namespace], check=False, capture_output=True)
            subprocess.run(["ip", "link", "del", near], check=False, capture_output=True)
