"""How old are the pictures that a "hold" rests on? `python -m tests.benchmarks.feed_age`.

Senders and links on this machine (`tests.faults.age_servers`), with pictures that carry the time at
which they were taken; somebody stands in focus all the while, so that "hold" is told whenever
nothing speaks against it. `--encoder FFMPEG` adds the H.264 of an encoder that looks ahead, sent as
an MPEG transport stream: a program `ffmpeg` with libx264.
"""

from __future__ import annotations

import argparse
import contextlib
import socket
import subprocess
import threading
import time
from collections.abc import Iterator

import numpy as np

from tests.benchmarks.tables import keep, machine, table
from tests.faults.age_servers import (
    RATE_HZ,
    SIZE_PX,
    Pictures,
    SlowLink,
    motion_jpeg,
    rtsp,
    stamped,
)
from tests.faults.aged_run import Told, watch

_SECONDS = 8.0
_SLOW = 700_000
_NOISE = 60
"""Makes pictures of 56 kB: 1.4 MB a second."""


@contextlib.contextmanager
def encoded(program: str, *options: str) -> Iterator[str]:
    """An H.264 stream of stamped pictures; its address."""
    width, height = SIZE_PX
    with socket.create_server(("127.0.0.1", 0)) as free:
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    sender = subprocess.Popen(
        [program, "-loglevel", "quiet", "-f", "rawvideo", "-pix_fmt", "bgr24",
         "-s", f"{width}x{height}", "-r", f"{RATE_HZ:g}", "-i", "-",
         "-c:v", "libx264", "-pix_fmt", "yuv420p", *options, "-f", "mpegts", f"{address}?listen=1"],
        stdin=subprocess.PIPE,
    )  # fmt: skip
    over = threading.Event()

    def feed() -> None:
        chance = np.random.default_rng(6)
        due_s = time.monotonic()
        with contextlib.suppress(OSError):
            while not over.is_set() and sender.stdin is not None:
                sender.stdin.write(stamped(time.monotonic(), chance, 12).tobytes())
                due_s += 1 / RATE_HZ
                time.sleep(max(0.0, due_s - time.monotonic()))

    threading.Thread(target=feed, daemon=True).start()
    time.sleep(0.5)
    try:
        yield address
    finally:
        over.set()
        sender.kill()
        sender.wait()


def stalled(web: bool) -> Told:
    """Nothing comes through for three seconds, then all at once."""
    with Pictures(_NOISE) as pictures:
        sender = (motion_jpeg if web else rtsp)(pictures)
        with sender as port, SlowLink(port) as link:
            at = ((3.0, link.stalled.set), (6.0, link.stalled.clear))
            return watch(_address(link.port, web), _SECONDS + 2, at=at)


def slow(web: bool, times: bool = False) -> Told:
    """A link of half of what the stream needs, which keeps the rest."""
    with Pictures(_NOISE) as pictures:
        sender = motion_jpeg(pictures, times=times) if web else rtsp(pictures)
        with sender as port, SlowLink(port, _SLOW) as link:
            return watch(_address(link.port, web), _SECONDS + 4)


def plain(
    web: bool, late_s: float = 0.0, put_by_s: float = 0.0, stated_s: float | None = None
) -> Told:
    """A link that is quick enough."""
    with Pictures(_NOISE, late_s) as pictures:
        time.sleep(put_by_s)
        sender = (motion_jpeg if web else rtsp)(pictures, put_by_s=put_by_s)
        with sender as port:
            return watch(_address(port, web), _SECONDS, stated_s)


def _address(port: int, web: bool) -> str:
    return f"{'http' if web else 'rtsp'}://127.0.0.1:{port}/live"


def row(name: str, told: Told) -> list[str]:
    """A line of the table."""
    claims = told.claims_s
    old_s = told.old_s
    behind_s = told.silent_s() if old_s is None else told.silent_s(old_s - 1.5)
    if old_s is None:
        when = "no old picture" if behind_s is None else f"told at {behind_s:.1f} s"
    elif behind_s is None:
        when = "never"
    else:
        when = "before" if behind_s <= old_s else f"{behind_s - old_s:.2f} s"
    return [
        name,
        f"{len(claims)}",
        f"{sum(age > 0.5 for age in claims)}",
        f"{max(claims):.2f} s" if claims else "-",
        when,
        f"{told.share_held(_SECONDS - 3):.0%}",
    ]


def main() -> None:
    """Print the table and keep it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--encoder", help="ffmpeg with libx264")
    program = parser.parse_args().encoder
    runs = {
        "motion JPEG over HTTP": lambda: plain(True),
        "HTTP, 3 s put by at opening": lambda: plain(True, put_by_s=3.0),
        "HTTP, link of 700 kB/s": lambda: slow(True),
        "HTTP, sender tells times": lambda: slow(True, times=True),
        "HTTP, link stalls for 3 s": lambda: stalled(True),
        "RTSP": lambda: plain(False),
        "RTSP, 3 s put by at opening": lambda: plain(False, put_by_s=3.0),
        "RTSP, link of 700 kB/s": lambda: slow(False),
        "RTSP, link stalls for 3 s": lambda: stalled(False),
        "RTSP, 0.3 s late, stated": lambda: plain(False, 0.3, stated_s=0.3),
        "RTSP, 1.9 s late, stated": lambda: plain(False, 1.9, stated_s=1.9),
        "RTSP, 1.9 s late, not stated": lambda: plain(False, 1.9),
    }
    names = list(runs)
    rows = [row(name, runs[name]()) for name in names]
    if program:
        for name, stated_s in (("not stated", None), ("stated as 2.1 s", 2.1)):
            with encoded(program) as address:
                rows.append(row(f"H.264, looks ahead, {name}", watch(address, _SECONDS, stated_s)))
        with encoded(program, "-tune", "zerolatency") as address:
            rows.append(row("H.264, does not look ahead", watch(address, _SECONDS)))
    header = [
        "feed", '"in focus" told', "of pictures older than 0.5 s", "oldest",
        "told, after the first old picture came", '"hold" at the end',
    ]  # fmt: skip
    keep("feed_age", f"Measured on {machine()}, loaded.\n\n" + table(header, rows))


if __name__ == "__main__":
    main()
