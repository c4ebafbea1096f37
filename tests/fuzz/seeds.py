"""Good input to begin from: every kind of file that the program reads, small."""

from __future__ import annotations

import io
import json
import tempfile
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import ExifTags, Image, TiffImagePlugin

SET_UP: dict[str, Any] = {
    "version": 1,
    "name": "window seat",
    "camera": {
        "sensor": "full-frame", "picture_width_px": 6000, "orientation": "portrait",
        "height_m": 1.3, "tilt_deg": 2.0,
    },
    "lens": {
        "focal_length_mm": 35.0, "f_number": 2.0, "focus_distance_m": 4.0,
        "minimum_focus_distance_m": 0.3, "widest_f_number": 1.8, "narrowest_f_number": 22.0,
    },
    "sharpness": {"criterion": "diagonal/1500"},
    "person": {
        "stature_m": 1.7, "profile": "me.toml", "movement": "standing", "step_length_m": 0.7,
        "stature_measured": True, "posture": "auto", "seat_height_m": 0.5,
    },
    "framing": {"shot_size": "knees-up", "headroom": 0.08, "across": 0.5},
    "exposure": {"light_ev100": 9.0, "shutter_s": 0.02, "iso": 400.0},
    "place": {"background_distance_m": 9.0},
    "timer": {"delay_s": 12.0},
    "feed": {
        "source": "0", "through": "own-lens", "crop": 1.0, "horizontal_field_of_view_deg": 70.0,
        "along_m": 0.1, "across_m": 0.2, "up_m": 0.3, "yaw_deg": 4.0, "pitch_deg": -3.0,
    },
}  # fmt: skip

PROFILE: dict[str, Any] = {
    "version": 1, "name": "me", "learned_at": "2026-05-01T10:00:00+02:00", "method": "mark",
    "scale": 1.02, "scale_sd": 0.01, "head": 1.0, "head_sd": 0.02,
    "segments_m": {"shoulders": 0.35, "thigh": 0.38}, "segments_sd_m": {"shoulders": 0.01},
    "marks": [{"depth_m": 3.0, "pictures": 40, "seconds": 8.0}],
}  # fmt: skip

FEED_PROFILE: dict[str, Any] = {
    "version": 1, "name": "webcam", "learned_at": "2026-05-01T10:00:00+02:00", "method": "board",
    "width_px": 1280, "height_px": 720, "fx_px": 900.0, "fy_px": 901.0, "cx_px": 640.0,
    "cy_px": 360.0, "distortion": [0.1, -0.2, 0.001, 0.002, 0.03], "focal_sd": 0.002,
    "error_px": 0.3,
}  # fmt: skip

ATTEMPT: dict[str, Any] = {
    "version": 2, "attempt": 1, "taken_at": "2026-05-01T10:00:00+02:00", "feed": "0",
    "feed_time_s": 12.5, "verdict": "in focus", "distance_m": 4.02, "standard_deviation_m": 0.1,
    "p_in_focus": 0.93, "to_mark_m": 0.02, "guidance": "hold", "framing": "knees-up",
    "cut": ["left foot"], "trigger": "frame", "picture": "picture-0001.png", "problem": "",
    "exit_code": 0, "on_card": "", "set_up": SET_UP,
}  # fmt: skip

RUN_SCORE: dict[str, Any] = {
    "version": 1, "run": 1, "taken_at": "2026-05-01T10:00:00+02:00", "countdown_s": 10.0,
    "reached_s": 8.0, "overshoot_m": 0.0, "distance_m": 4.0, "to_mark_m": 0.05, "p_in_focus": 0.9,
    "verdict": "in focus", "framing": "full-body", "cut": [], "sway_m": 0.01,
}  # fmt: skip

CHECKED: dict[str, Any] = {
    "file": "a.jpg", "problem": "", "verdict": "soft", "why": "blurred", "change": "step back",
    "cause": "you moved", "blur_px": 4.0, "blur_sd_px": 0.5, "blur_mm": 0.02, "limit_px": 2.0,
    "limit_mm": 0.03, "criterion": "diagonal/1500", "print_limit_px": 5.0, "p_sharp": 0.1,
    "smear_px": 3.0, "smear_deg": 20.0, "edges": 40, "largest_print_cm": 12.0, "distance_m": 4.0,
    "distance_sd_m": 0.1, "distance_from_blur_m": 4.4, "near_m": 3.6, "far_m": 4.5, "focus_m": 4.0,
    "framing": "knees-up", "cut": ["head"], "width_px": 6000, "height_px": 4000,
    "focal_length_mm": 35.0, "f_number": 2.0, "exposure_s": 0.01, "iso": 400,
    "taken_at": "2026-05-01T10:00:01", "attempt": 1, "clock_offset_s": 2.0, "live_distance_m": 4.0,
    "live_distance_sd_m": 0.1, "live_verdict": "in focus", "burst": 1, "rank": 1, "of": 2,
    "notes": ["a note"], "thumbnail": "thumbnail-0001.jpg", "eyes_crop": "eyes-crop-0001.jpg",
}  # fmt: skip

TAG = ExifTags.Base


def picture() -> np.ndarray:
    """A small scene with something in it."""
    y, x = np.mgrid[0:48, 0:64]
    return np.stack([x * 4, y * 5, (x * y) % 251], axis=2).astype(np.uint8)


def exif() -> Image.Exif:
    """All tags that are read, with values of a real picture."""
    made = Image.Exif()
    made[TAG.Orientation] = 6
    made[TAG.DateTime] = "2026:05:01 10:00:00"
    inner = made.get_ifd(ExifTags.IFD.Exif)
    rational = TiffImagePlugin.IFDRational
    inner |= {
        TAG.FocalLength: rational(35, 1), TAG.FNumber: rational(28, 10),
        TAG.ExposureTime: rational(1, 125), TAG.ISOSpeedRatings: 400,
        TAG.SubjectDistance: rational(32, 10), TAG.FocalLengthIn35mmFilm: 52,
        TAG.FocalPlaneXResolution: rational(40000, 10), TAG.FocalPlaneYResolution: rational(4000),
        TAG.FocalPlaneResolutionUnit: 3, TAG.DateTimeOriginal: "2026:05:01 10:00:00",
        TAG.SubsecTimeOriginal: "25", TAG.OffsetTimeOriginal: "+02:00", TAG.LensModel: "a lens",
    }  # fmt: skip
    return made


@lru_cache
def pictures() -> tuple[bytes, ...]:
    """Small files of each kind, tags included."""
    image = Image.fromarray(picture()[..., ::-1])
    made = []
    for kind, more in (
        ("JPEG", {"exif": exif()}), ("JPEG", {"progressive": True}), ("PNG", {"exif": exif()}),
        ("TIFF", {}), ("TIFF", {"compression": "tiff_lzw"}),
        ("TIFF", {"compression": "tiff_deflate"}),
        ("WEBP", {}), ("BMP", {}),
    ):  # fmt: skip
        out = io.BytesIO()
        image.save(out, kind, **more)
        made.append(out.getvalue())
    for mode in ("L", "P", "1", "RGBA", "I;16"):
        out = io.BytesIO()
        image.convert("L" if mode == "I;16" else mode).convert(mode).save(out, "PNG")
        made.append(out.getvalue())
        out = io.BytesIO()
        image.convert("L" if mode == "I;16" else mode).convert(mode).save(out, "TIFF")
        made.append(out.getvalue())
    return tuple(made)


@lru_cache
def exif_block() -> bytes:
    """The tags alone, as they stand in a JPEG after `Exif`."""
    return exif().tobytes()


@lru_cache
def videos() -> tuple[bytes, ...]:
    """A second of video of each kind that OpenCV writes here."""
    made = []
    with tempfile.TemporaryDirectory() as folder:
        for name, codec in (("a.mp4", "mp4v"), ("a.avi", "MJPG"), ("a.mkv", "mp4v")):
            path = Path(folder) / name
            writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*codec), 25, (64, 48))
            for k in range(8):
                writer.write(np.roll(picture(), k, axis=1))
            writer.release()
            if path.stat().st_size:
                made.append(path.read_bytes())
    return tuple(made)


def json_lines(*lines: dict[str, Any]) -> bytes:
    """A record."""
    return b"".join(json.dumps(line).encode() + b"\n" for line in lines)
