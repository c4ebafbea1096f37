"""The whole live pipeline against its pose network: `python -m tests.benchmarks.pipeline`.

The shipped clip at 720p and 1080p, each as a file read as fast as it goes and as a camera of 30
pictures a second, with a window (on a virtual display where there is none), sound (rendered, and
dropped by a silent loudspeaker) and a paired second screen. The floor is the network's own call on
the same pictures, measured before and after in the same run; every case is a process of its own.
`--height` measures one size only. Kept as
results/pipeline_720p.md and pipeline_1080p.md.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from assist.feed import Source
from assist.feed.video_file import VideoFileSource
from assist.run import demo
from assist.setup.set_up import load
from tests.benchmarks import stage_set, timed_run
from tests.benchmarks.tables import ROOT, keep, machine, table

HEIGHTS = (720, 1080)
PICTURES = 220
SETTLING = 30
"""Pictures at the start of each case that do not count: the first ones warm everything up."""
RATE_HZ = 30.0
_TRIES = 6
_STARTS = 3


def network_alone(clip: Path) -> dict[str, Any]:
    """Milliseconds of the network's own call, nothing else going on."""
    watch = timed_run.Stopwatch()
    source = VideoFileSource(clip)
    with timed_run.TimedDetector(watch, alone=True) as detector:
        while (frame := source.read()) is not None:
            detector.detect(frame.picture, frame.time_s)
    spent = np.array(watch.spent[timed_run.NETWORK][SETTLING:])
    return {
        "rate_hz": len(spent) / spent.sum(),
        "median_ms": 1e3 * float(np.median(spent)),
        "memory": vars(timed_run.memory()),
    }


def _case(open_source: Callable[[Path], Source], clip: Path, full: bool) -> dict[str, Any]:
    set_up = load(demo.sample_folder() / demo.SET_UP)
    with stage_set.display():
        measured = timed_run.run(open_source(clip), set_up, window=full, told=full)
    watch = measured.watch
    out_s = watch.shown_s if full else watch.told_s
    counted = [index for index in sorted(out_s) if index >= SETTLING]
    latency_ms = np.array([1e3 * (out_s[i] - watch.arrived_s[i]) for i in counted])
    network_ms = np.array([1e3 * watch.network_s[watch.time_of[i]] for i in counted])
    return {
        "rate_hz": (len(counted) - 1) / (out_s[counted[-1]] - out_s[counted[0]]),
        "left_out": len([i for i in watch.arrived_s if i >= SETTLING]) - len(counted),
        "latency_ms": np.percentile(latency_ms, [50, 95, 99]).tolist(),
        "added_ms": np.percentile(latency_ms - network_ms, [50, 95, 99]).tolist(),
        "network_ms": np.percentile(network_ms, [50, 95, 99]).tolist(),
        "stages_ms": {
            stage: np.percentile(1e3 * np.array(watch.spent[stage][SETTLING:]), [50, 95]).tolist()
            for stage in timed_run.STAGES
            if watch.spent[stage]
        },
        "cores": measured.cores_used,
        "memory": vars(measured.memory),
    }


CASES: Mapping[str, Callable[[Path], dict[str, Any]]] = {
    "network": network_alone,
    "bare": lambda clip: _case(VideoFileSource, clip, full=False),
    "file": lambda clip: _case(VideoFileSource, clip, full=True),
    "live": lambda clip: _case(
        lambda path: stage_set.PacedClip(path, RATE_HZ, PICTURES), clip, full=True
    ),
}


def in_own_process(case: str, clip: Path) -> dict[str, Any]:
    """What the case measured; a case whose window was not painted is done again."""
    command = [sys.executable, "-m", "tests.benchmarks.pipeline", "--case", case]
    for _ in range(_TRIES):
        began_s, before_s = time.perf_counter(), _others_s()
        done = subprocess.run(
            [*command, "--clip", str(clip)], stdout=subprocess.PIPE, text=True, check=True, cwd=ROOT
        )
        measured: dict[str, Any] | None = json.loads(done.stdout.splitlines()[-1])
        if measured is not None:
            measured["others"] = (_others_s() - before_s) / (time.perf_counter() - began_s)
            return measured
    raise SystemExit(f"no window was painted in {_TRIES} tries")


def _others_s() -> float:
    """Processor seconds that went to anything but this benchmark since the machine was started."""
    busy = Path("/proc/stat").read_text(encoding="ascii").split("\n", 1)[0].split()[1:9]
    idle = int(busy[3]) + int(busy[4])
    all_s = (sum(map(int, busy)) - idle) / os.sysconf("SC_CLK_TCK")
    ours = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return all_s - sum(use.ru_utime + use.ru_stime for use in ours)


def start_up_s(clip: Path) -> float:
    """Seconds from the start of the command, without a window, to its first guidance."""
    probe = (
        "import sys, time, assist.run.live as live\n"
        "think = live.Assistant.think\n"
        "def first(self, *seen):\n"
        "    moment = think(self, *seen); print('FIRST', time.time(), flush=True)\n"
        "    live.Assistant.think = think\n"
        "    return moment\n"
        "live.Assistant.think = first\n"
        "from assist.cli import main; sys.argv = ['assist', *sys.argv[1:]]; main()\n"
    )
    arguments = ["live", str(clip), "--set-up", str(demo.sample_folder() / demo.SET_UP),
                 "--no-window"]  # fmt: skip
    began_s = time.time()
    process = subprocess.Popen(
        [sys.executable, "-c", probe, *arguments], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert process.stdout is not None
    first = process.stdout.readline().split()
    process.terminate()
    process.communicate()
    assert first[0] == "FIRST", first
    return float(first[1]) - began_s


def report(height: int, found: Mapping[str, dict[str, Any]], starts_s: list[float]) -> str:
    """The tables of one size."""
    floor_hz, floor_ms = found["network"]["rate_hz"], found["network"]["median_ms"]
    names = {
        "bare": "file, no window, sound or sharing",
        "file": "file, everything on",
        "live": f"camera at {RATE_HZ:.0f} a second, everything on",
    }
    ratios = [
        [
            name,
            f"{found[case]['rate_hz']:.1f}",
            f"{found[case]['rate_hz'] / floor_hz:.2f}" if case != "live" else "",
            str(found[case]["left_out"]),
            " / ".join(f"{ms:.1f}" for ms in found[case]["latency_ms"]) if case == "live" else "",
            " / ".join(f"{ms:.1f}" for ms in found[case]["added_ms"]) if case == "live" else "",
            f"{found[case]['cores']:.2f}",
            f"{found[case]['memory']['most_mb']:.0f} / {found[case]['memory']['now_mb']:.0f}",
            f"{found[case]['others']:.2f}",
        ]
        for case, name in names.items()
    ]
    memory = found["network"]["memory"]
    ratios.insert(
        0, ["pose network alone", f"{floor_hz:.1f}", "1", "", f"{floor_ms:.1f}", "", "",
            f"{memory['most_mb']:.0f} / {memory['now_mb']:.0f}",
            f"{found['network']['others']:.2f}"]
    )  # fmt: skip
    text = (
        f"# The live pipeline at {height}p against its pose network ({machine()})\n\n"
        f"{PICTURES - SETTLING} pictures of the shipped clip in each case. Latency is from a "
        "picture's arrival to its guidance on the screen: median / 95th / 99th percentile; for the "
        "network alone its median call. Stages overlap: they need not add up to the time between "
        "two pictures. The last column is what other programs took of the machine meanwhile.\n\n"
    )
    text += table(
        ["", "pictures a second", "of the network's", "left out", "latency, ms", "over the network,"
         " ms", "cores used", "memory peak / settled, MB", "others' cores"], ratios,
    )  # fmt: skip
    rows = []
    whole = sum(ms for ms, _ in found["live"]["stages_ms"].values())
    for stage in timed_run.STAGES:
        cells = [stage]
        for case in ("file", "live"):
            median, high = found[case]["stages_ms"][stage]
            cells += [f"{median:.2f}", f"{high:.2f}"]
        cells.append(f"{found['live']['stages_ms'][stage][0] / whole:.0%}")
        rows.append(cells)
    text += "\n" + table(
        ["stage", "file: median, ms", "95th", "camera: median, ms", "95th", "share"], rows
    )
    return (
        text + "\nFrom the start of the command to its first guidance, best of "
        f"{len(starts_s)}: {min(starts_s):.2f} s.\n"
    )


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--height", type=int, choices=HEIGHTS)
    parser.add_argument("--case", choices=CASES, help=argparse.SUPPRESS)
    parser.add_argument("--clip", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.case is not None:
        try:
            print(json.dumps(CASES[options.case](options.clip)))
        except timed_run.NothingPaintedError:
            print("null")
        return
    with tempfile.TemporaryDirectory() as folder:
        sample = demo.sample_folder() / demo.CLIP
        for height in HEIGHTS if options.height is None else (options.height,):
            clip = stage_set.scaled_clip(sample, height, Path(folder), PICTURES)
            before = in_own_process("network", clip)
            found = {case: in_own_process(case, clip) for case in ("bare", "file", "live")}
            after = in_own_process("network", clip)
            found["network"] = {
                **after,
                **{
                    key: statistics.mean((before[key], after[key]))
                    for key in ("rate_hz", "median_ms", "others")
                },
            }
            starts_s = [start_up_s(clip) for _ in range(_STARTS)]
            keep(f"pipeline_{height}p", report(height, found, starts_s))


if __name__ == "__main__":
    main()
