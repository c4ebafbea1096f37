"""Cut a rendered walk down to a small clip for the tests, with its truth.

    python -m samples.rendering.cut walks/rolls_in.mp4 --from 6.0 --out tests/assist/data

Half the size, everything from `--from` seconds on; times in the truth file start at 0 again.
"""

from __future__ import annotations

import argparse
import csv
import json
import subprocess
from pathlib import Path

from .truth import TRUTH_COLUMNS, write_json, write_truth


def cut(clip: Path, start_s: float, out: Path) -> None:
    """Write clip, truth and camera file of the same names into the folder `out`."""
    import imageio_ffmpeg

    out.mkdir(parents=True, exist_ok=True)
    camera = json.loads(clip.with_suffix("").with_suffix(".camera.json").read_text())
    first = round(start_s * camera["frames_per_second"])
    subprocess.run(
        [
            imageio_ffmpeg.get_ffmpeg_exe(), "-y", "-loglevel", "error", "-i", str(clip),
            "-vf", f"trim=start_frame={first},setpts=PTS-STARTPTS,scale=iw/2:ih/2:flags=area",
            "-an", "-c:v", "libx264", "-preset", "slow", "-crf", "24", "-pix_fmt", "yuv420p",
            "-map_metadata", "-1", "-fflags", "+bitexact", "-flags:v", "+bitexact",
            str(out / clip.name),
        ],
        check=True,
    )  # fmt: skip
    with clip.with_suffix(".truth.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))[first:]
    began_s = float(rows[0]["time_s"])
    kept = [
        {name: row[name] for name in TRUTH_COLUMNS}
        | {"frame": str(k), "time_s": f"{float(row['time_s']) - began_s:.3f}"}
        for k, row in enumerate(rows)
    ]
    write_truth(out / f"{clip.stem}.truth.csv", kept)
    for name in ("image_width_px", "image_height_px"):
        camera[name] //= 2
    for name in ("fx_px", "fy_px", "cx_px", "cy_px"):
        camera[name] /= 2
    write_json(out / f"{clip.stem}.camera.json", camera | {"frames": len(kept)})


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("clip", type=Path)
    parser.add_argument("--from", dest="start_s", type=float, default=0.0)
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    cut(options.clip, options.start_s, options.out)


if __name__ == "__main__":
    main()
