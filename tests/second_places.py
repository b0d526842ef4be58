"""Real servers for the second copy, each a process of its own that a test starts, ends by its id
and starts again: SFTP (asyncssh's server) and an S3-compatible store (moto's)."""

import os
import socket
import subprocess
import sys
from pathlib import Path

import asyncssh
import requests

from tests.waiting import until

SFTP = """
import asyncio, sys
import asyncssh

async def main(port, folder, keys):
    def make(channel):
        return asyncssh.SFTPServer(channel, chroot=folder.encode())
    await asyncssh.listen(
        "127.0.0.1", port, server_host_keys=[keys + "/host"], sftp_factory=make,
        authorized_client_keys=keys + "/authorized", reuse_address=True,
    )
    print("ready", flush=True)
    await asyncio.Event().wait()

asyncio.run(main(int(sys.argv[1]), sys.argv[2], sys.argv[3]))
"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class _Server:
    """A child process that answers on ``port``."""

    def __init__(self) -> None:
        self.port = free_port()
        self._process: subprocess.Popen[str] | None = None

    def _run(self, *command: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, *command],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip

    def stop(self) -> None:
        """SIGKILL: connections break off, as when a cable is pulled."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(20)
            assert self._process.stdout is not None
            self._process.stdout.close()
            self._process = None


class SftpServer(_Server):
    """Serves ``folder``. Who comes with the key in ``home/.ssh`` is let in."""

    def __init__(self, folder: Path, home: Path) -> None:
        super().__init__()
        self.folder, self._keys, self._ssh = folder, home / "server", home / ".ssh"
        self._keys.mkdir(parents=True)
        self._ssh.mkdir(mode=0o700)
        host, user = (asyncssh.generate_private_key("ssh-ed25519") for _ in range(2))
        host.write_private_key(self._keys / "host")
        user.write_private_key(self._ssh / "id_ed25519")
        user.write_public_key(self._keys / "authorized")
        public = host.export_public_key().decode()
        (self._ssh / "known_hosts").write_text(f"[127.0.0.1]:{self.port} {public}")

    @property
    def address(self) -> str:
        return f"sftp://cork@127.0.0.1:{self.port}/copy"

    def start(self) -> "SftpServer":
        self._run("-c", SFTP, str(self.port), str(self.folder), str(self._keys))
        assert self._process is not None
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == "ready\n"
        return self

    def forget_host_key(self) -> None:
        (self._ssh / "known_hosts").write_text("")


class S3Server(_Server):
    """A store in memory: what it held is gone when it is stopped."""

    BUCKET = "cork"

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def address(self) -> str:
        return f"s3://{self.BUCKET}/copy"

    @property
    def environment(self) -> dict[str, str]:
        return {
            "AWS_ACCESS_KEY_ID": "testing",
            "AWS_SECRET_ACCESS_KEY": "hush-hush",
            "AWS_DEFAULT_REGION": "us-east-1",
            "AWS_ENDPOINT_URL": self.url,
            "AWS_EC2_METADATA_DISABLED": "true",
        }

    def start(self) -> "S3Server":
        self._run("-m", "moto.server", "-H", "127.0.0.1", "-p", str(self.port))
        until(self._answers, 60, "for the S3-compatible store")
        return self

    def _answers(self) -> bool:
        try:
            return requests.get(f"{self.url}/moto-api/", timeout=5).status_code < 500
        except requests.ConnectionError:
            return False

    def make_bucket(self) -> None:
        requests.put(f"{self.url}/{self.BUCKET}", timeout=10).raise_for_status()

    def freeze(self, frozen: bool) -> None:
        """Let it hang, as a machine that sleeps does; or go on."""
        assert self._process is not None
        os.kill(self._process.pid, 19 if frozen else 18)  # SIGSTOP, SIGCONT
