"""Several viewers of the live view in one program; prints the rate of each as JSON.

Usage: python -m tests.bench.load_viewers URL TOKEN VIEWERS SECONDS
"""

import json
import sys
from concurrent.futures import ThreadPoolExecutor

from tests.bench.live_viewer import watch_socket


def main() -> None:
    """Watch and report: the rate, and the rate in the worst stretch of a sixth of the time."""
    url, token, viewers, seconds = sys.argv[1:5]
    with ThreadPoolExecutor(int(viewers)) as pool:
        watching = [
            pool.submit(watch_socket, url, token, float(seconds), 0) for _ in range(int(viewers))
        ]
    rates = [rates_of([moment for moment, _ in one.result()]) for one in watching]
    print(json.dumps([{"fps": whole, "worst": worst} for whole, worst in rates]))


def rates_of(moments: list[float]) -> tuple[float, float]:
    """Pictures a second over all, and in the worst sixth."""
    first, last = moments[0], moments[-1]
    stretch = (last - first) / 6
    counts = [0] * 6
    for moment in moments[1:]:
        counts[min(5, int((moment - first) / stretch))] += 1
    return (len(moments) - 1) / (last - first), min(counts) / stretch


if __name__ == "__main__":
    main()
