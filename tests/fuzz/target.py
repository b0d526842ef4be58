"""How a fuzz target is run: Atheris drives one function with bytes that it makes up.

Usage: python -m tests.fuzz.fuzz_plan [libFuzzer options]. Seeds are made by the target itself; what
the fuzzer finds lies in a temporary folder and is not kept. An error that the function under test
does not promise ends the run with its traceback, and with the input that led to it.
"""

import resource
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

import atheris

_MOST_BYTES = 2 << 30


def fuzz(one_input: Callable[[bytes], None], seeds: Iterable[bytes]) -> None:
    """Run until libFuzzer's own limits (``-max_total_time``, ``-runs``) are met.

    Memory is bounded by the system: libFuzzer's own limit looks at the highest mark of the process,
    which on Linux begins with that of whoever started it.
    """
    resource.setrlimit(resource.RLIMIT_DATA, (_MOST_BYTES, _MOST_BYTES))
    with tempfile.TemporaryDirectory(prefix="standclear-fuzz-") as corpus:
        for number, seed in enumerate(seeds):
            (Path(corpus) / f"seed-{number}").write_bytes(seed)
        options = ["-max_len=32768", "-rss_limit_mb=0", "-timeout=30", "-print_final_stats=1"]
        options.append(f"-artifact_prefix={tempfile.gettempdir()}/")
        atheris.Setup([sys.argv[0], *options, *sys.argv[1:], corpus], one_input)
        atheris.Fuzz()
