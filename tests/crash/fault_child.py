"""Forks the children that work while a step fails: everything is imported once, a child is a fork.

Run as ``python -m tests.crash.fault_child``. A line of JSON on standard input (run, work, mutation)
is answered with the new child's process id; the child begins at the next, empty line. When it has
ended, its wait status is told.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.crash.fault_work import carry_out

ROOT = Path(__file__).resolve().parents[2]


def main() -> None:
    """Until there are no more lines."""
    for line in sys.stdin:
        run, name, mutation = json.loads(line)
        begin, go = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(go)
            os.read(begin, 1)
            carry_out(Path(run), name, mutation)
            os._exit(0)
        os.close(begin)
        print(child, flush=True)
        sys.stdin.readline()
        os.write(go, b"!")
        os.close(go)
        print(os.waitpid(child, 0)[1], flush=True)


class Children:
    """The side of the test: one child at a time."""

    def __init__(self) -> None:
        self._server = subprocess.Popen(
            [sys.executable, "-m", "tests.crash.fault_child"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
        )  # fmt: skip
        assert self._server.stdin is not None
        assert self._server.stdout is not None
        self._ask, self._hear = self._server.stdin, self._server.stdout

    def _line(self, said: str) -> int:
        self._ask.write(said + "\n")
        self._ask.flush()
        return int(self._hear.readline())

    def ready(self, run: Path, name: str, mutation: str) -> int:
        """A child that waits; its process id."""
        return self._line(json.dumps([str(run), name, mutation]))

    def go(self) -> int:
        """Let it begin; its wait status once it has ended."""
        return self._line("")

    def close(self) -> None:
        """End."""
        self._ask.close()
        self._server.wait(30)
        self._hear.close()


if __name__ == "__main__":
    main()
