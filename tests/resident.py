"""How much memory a process has had, by Linux's own account.

Sources: proc_pid_status(5), VmHWM; proc_pid_clear_refs(5).
getrusage(2) does not do: its highest mark survives execve(2), so a child begins with its parent's.
"""

import os
from pathlib import Path


def peak_mib(process: int | None = None) -> float:
    """The most resident memory of that process, or of this one, in MiB."""
    text = Path(f"/proc/{process or os.getpid()}/status").read_text(encoding="utf-8")
    return int(text.split("VmHWM:")[1].split()[0]) / 1024


def forget_peak() -> float:
    """Let this process's highest mark begin anew at what it has now, in MiB."""
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    return peak_mib()
