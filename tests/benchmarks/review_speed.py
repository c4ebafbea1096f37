"""How fast pictures of 24 megapixels are reviewed, and whether memory grows.

    python -m tests.benchmarks.review_speed [PICTURES]

Writes tests/benchmarks/results/review_speed.md. The pictures are the rendered eyes of the tests
set into a sharp portrait that matplotlib carries, twelve different files read again and again.
"""

import os
import sys
import tempfile
import time
from pathlib import Path

import cv2
import matplotlib
import numpy as np

from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.review import batch
from assist.review.checked import Sharpness
from assist.review.taking_lens import DEFAULT_PRINT
from tests.benchmarks import tables

WIDTH, HEIGHT = 6000, 4000


def resident_mb():
    """Memory in use by this process, MB."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def make(folder, count=12):
    """Pictures of a real person on a textured ground, 24 megapixels, of several sharpnesses."""
    rng = np.random.default_rng(0)
    portrait = cv2.imread(
        str(Path(matplotlib.get_data_path()) / "sample_data" / "grace_hopper.jpg")
    )
    big = cv2.resize(portrait, (2560, 3000), interpolation=cv2.INTER_CUBIC)
    for index in range(count):
        ground = cv2.resize(
            rng.integers(60, 190, (250, 375, 3), dtype=np.uint8), (WIDTH, HEIGHT),
            interpolation=cv2.INTER_CUBIC,
        )  # fmt: skip
        ground[900:3900, 1700:4260] = big
        if index % 3:
            ground = cv2.GaussianBlur(ground, (0, 0), 2.0 * (index % 3))
        noise = rng.normal(0, 3, (HEIGHT, WIDTH, 1)).astype(np.float32)
        picture = np.clip(ground + noise, 0, 255).astype(np.uint8)
        cv2.imwrite(str(folder / f"{index:02d}.jpg"), picture, [cv2.IMWRITE_JPEG_QUALITY, 92])


def main():
    total = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        make(folder)
        files = sorted(folder.glob("*.jpg"))
        size_mb = sum(f.stat().st_size for f in files) / len(files) / 1e6
        paths = [files[i % len(files)] for i in range(total)]
        store = batch.PictureStore(folder)
        workers = batch.default_workers(total)
        rows, judged = [], 0
        began_s, began_cpu = time.perf_counter(), time.process_time()
        for number, examined in enumerate(
            batch.examine_all(
                paths, lambda: MediaPipePoseDetector(stills=True), None,
                print_size=DEFAULT_PRINT, workers=workers,
            ),
            start=1,
        ):  # fmt: skip
            checked = store.keep(examined)
            judged += checked.verdict != Sharpness.NOT_SURE.value
            if number in (20, 50, 100, 200, 500, 1000) or number == total:
                rows.append((str(number), f"{resident_mb():.0f}"))
        seconds = time.perf_counter() - began_s
        cpu = time.process_time() - began_cpu
    text = (
        "# Reviewing pictures of 24 megapixels\n\n"
        f"{total} JPEGs of {size_mb:.1f} MB, {workers} threads: {total / seconds:.2f} a second by "
        f"the clock, {cpu / total:.2f} s of processor each (the other load on the machine counts "
        f"in the clock only); {judged} judged.\n\n{tables.machine()}\n\n"
        + tables.table(("after pictures", "memory, MB"), rows)
    )
    tables.keep("review_speed", text)


if __name__ == "__main__":
    main()
