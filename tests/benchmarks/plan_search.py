"""How long the ranked inverse search takes: `python -m tests.benchmarks.plan_search`.

Ten lenses, every third of a stop, a continuous distance; wishes that can be met and wishes that
cannot, where advice is worked out as well. The bound is 200 ms.
"""

from __future__ import annotations

import statistics
import sys
import time

from optics import framing, motion
from optics.figure import Figure
from optics.planner import LensChoice, Light, Room, Wishes, search
from optics.sensor import FORMATS

BOUND_S = 0.2
REPEATS = 30

LENSES = [
    LensChoice(f"{focal_mm} mm", focal_mm / 1000, widest, 32.0, 8 * focal_mm / 1000)
    for focal_mm, widest in (
        (20, 1.8), (24, 1.4), (28, 2.0), (35, 1.4), (40, 2.0), (50, 1.2), (70, 2.8), (85, 1.4),
        (105, 1.4), (135, 1.8),
    )
]  # fmt: skip


def wishes(room: Room, ev100: float, camera_height_m: float | None = None) -> Wishes:
    """A knees-up self-portrait in a room of six metres."""
    full_frame = FORMATS["full-frame"]
    return Wishes(
        sensor=full_frame,
        orientation="landscape",
        circle_of_confusion_m=full_frame.diagonal_m / 1500,
        shot_size=framing.shot_size("knees-up"),
        figure=Figure(1.70),
        room=room,
        speed_m_s=motion.STANDING.speed_m_s,
        farthest_m=6.0,
        light=Light(ev100, 3200),
        camera_height_m=camera_height_m,
    )


CASES = {
    "can be met": wishes(Room(0.6, 0.4), 9.0),
    "can be met, tilted": wishes(Room(0.6, 0.4), 9.0, 1.5),
    "cannot be met": wishes(Room(3.0, 3.0), 9.0),
    "cannot, too dark": wishes(Room(0.6, 0.4), 0.0),
}


def main() -> int:
    """Print the table; exit code 1 if a search is slower than the bound."""
    print(f"{'wishes':<22}{'answers':>8}{'advice':>8}{'median ms':>11}{'worst ms':>10}")
    worst_s = 0.0
    for name, wish in CASES.items():
        times = []
        for _ in range(REPEATS):
            start = time.perf_counter()
            answer = search(wish, LENSES)
            times.append(time.perf_counter() - start)
        worst_s = max(worst_s, *times)
        print(
            f"{name:<22}{len(answer.candidates):>8}{len(answer.relaxations):>8}"
            f"{statistics.median(times) * 1e3:>11.1f}{max(times) * 1e3:>10.1f}"
        )
    return int(worst_s > BOUND_S)


if __name__ == "__main__":
    sys.exit(main())
