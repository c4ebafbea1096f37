"""Pictures over the cable, in a row: `python -m tests.benchmarks.cable`.

Against libgphoto2's own virtual camera, which speaks PTP (ISO 15740) but writes JPEG alone, shows
no live view and blacks out for no time: what a real camera adds to these times is not in them. It
plays a full card: its counter starts at 98, goes up by two a picture, and at 150 the store is full
(libgphoto2 2.5.30, libgphoto2_port/vusb/vcamera.c, ptp_initiatecapture_write). So 26 pictures are
all there is of one camera; SHOTS in the environment may ask for fewer. Writes
tests/benchmarks/results/cable.md.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmarks.tables import ROOT, keep, machine, table

SHOTS, BURST = int(os.environ.get("SHOTS", "24")), 4
CONTENT = b"\xff\xd8 what lies on the card \xff\xd9"


def measure(folder: Path) -> dict[str, str]:
    """What came of all shots, a burst at a time."""
    from assist.camera.background import BackgroundTrigger
    from assist.camera.tether import TetherTrigger

    picture = np.zeros((8, 8, 3), np.uint8)
    background: BackgroundTrigger[int] = BackgroundTrigger(TetherTrigger(folder))
    late_ms, first_ms, done = [], [], []
    began_s = time.monotonic()
    for shot in range(1, SHOTS + 1):
        background.fire(picture, shot, shot, more=shot % BURST > 0)
        if shot % BURST:
            time.sleep(0.5)
            continue
        while background.pending:
            done += background.poll(1.0)
        time.sleep(0.3)
    took_s = time.monotonic() - began_s
    done += background.close(30.0)
    for each in done:
        late_ms.append(1000 * each.late_s)
        if each.ticket % BURST == 1:
            first_ms.append(1000 * each.late_s)
    own = sum(
        each.fired.picture is not None
        and each.fired.picture.name == f"picture-{each.ticket:04d}.jpg"
        and not each.fired.others
        and each.fired.picture.read_bytes() == CONTENT
        for each in done
    )
    on_card = {each.fired.on_card for each in done}
    stray = [p.name for p in folder.iterdir() if not p.name.startswith("picture-")]
    return {
        "told of": str(len(done)),
        "with one file under its own attempt": str(own),
        "different files on the card": str(len(on_card)),
        "files of no attempt": str(len(stray)),
        "order to release, first of a burst, median ms": f"{np.median(first_ms):.1f}",
        "order to release, first of a burst, longest ms": f"{max(first_ms):.1f}",
        "order to release, all, longest ms": f"{max(late_ms):.1f}",
        "whole, s": f"{took_s:.0f}",
    }


def main() -> None:
    """Measure, print and keep."""
    if "VCAMERADIR" not in os.environ:  # chosen before the library is loaded
        with tempfile.TemporaryDirectory() as card:
            Path(card, "one.jpg").write_bytes(CONTENT)
            again = [sys.executable, "-m", "tests.benchmarks.cable"]
            subprocess.run(again, env={**os.environ, "VCAMERADIR": card}, cwd=ROOT, check=True)
        return
    with tempfile.TemporaryDirectory() as folder:
        found = measure(Path(folder))
    what = (
        f"{SHOTS} pictures in bursts of {BURST}, half a second apart; virtual camera; {machine()}."
    )
    rows = [[name, value] for name, value in found.items()]
    keep("cable", f"{what}\n\n{table(('measured', 'value'), rows)}")


if __name__ == "__main__":
    main()
