"""How well the blur estimator does: known kernels, photographs, rendered eyes.

    python -m tests.benchmarks.review_blur [CHARTS]

Writes tests/benchmarks/results/review_blur.md.
"""

import sys
import time
from pathlib import Path

import numpy as np

from assist.review import blur as blurs
from assist.review.blur import NotMeasured
from assist.review.checked import Sharpness
from assist.review.diagnosis import verdict_of
from assist.review.picture import linear_luminance
from tests.assist import blur_truth as bt

RESULT = Path(__file__).parent / "results" / "review_blur.md"
LIMIT_PX = np.hypot(36, 24) / 1500 / 36 * 6000


def eye_mask(eyes_px, shape, unit_scale=(0.42, 0.38)):
    """Boxes round the eyes as the review takes them."""
    unit = float(np.hypot(*(eyes_px[0] - eyes_px[1])))
    mask = np.zeros(shape, bool)
    for x, y in eyes_px:
        w, h = unit_scale[0] * unit, unit_scale[1] * unit
        mask[max(0, int(y - h)) : int(y + h) + 1, max(0, int(x - w)) : int(x + w) + 1] = True
    return mask


def _told(title, rows):
    """A set of renders in words and as a table."""
    ratio = np.array([r[2] / r[1] - 1 for r in rows if r[1] > 0.5 * LIMIT_PX])
    seen, right, unsure, wrong, dangerous = agreement(rows)
    inside = np.mean([abs(r[2] - r[1]) < 1.645 * r[3] for r in rows])
    return [
        "",
        f"## {title} ({len(rows)} crops), limit {LIMIT_PX:.2f} px",
        "",
        f"Median relative error from half the limit on: {100 * np.nanmedian(ratio):+.0f} %; nine "
        f"in ten within {100 * np.nanquantile(abs(ratio), 0.9):.0f} %; the stated 90 % interval "
        f"held {100 * inside:.0f} %.",
        "",
        f"Outside 15 % round the limit: {seen} crops, {right} right "
        f"({100 * right / seen:.0f} %), {unsure} not sure, {wrong} wrong; {dangerous} called "
        "sharp with a true blur over twice the limit.",
        "",
        "| crop | true, px | measured | sd | verdict |",
        "|---|---|---|---|---|",
        *(f"| {n} | {t:.2f} | {m:.2f} | {s:.2f} | {v.value} |" for n, t, m, s, v in rows),
    ]


def kernels(charts=2):
    """Rows: shape, width, then the worst relative error of clean, noise, JPEG."""
    rows = []
    for shape in ("gauss", "disc", "line"):
        for width in bt.WIDTHS_PX:
            errors = {"clean": [], "noise": [], "JPEG 80": []}
            turns = []
            for seed in range(charts):
                rng = np.random.default_rng(seed)
                image = bt.blurred(bt.chart(320, seed), shape, width)
                noisy = bt.noisy(image, rng)
                for name, picture in (
                    ("clean", image),
                    ("noise", noisy),
                    ("JPEG 80", bt.through_jpeg(noisy)),
                ):
                    got = blurs.measure(picture)
                    errors[name].append(
                        np.nan if isinstance(got, NotMeasured) else got.width_px / width - 1
                    )
                    if not isinstance(got, NotMeasured) and got.direction_deg is not None:
                        turns.append(got.direction_deg - bt.LINE_DEG)
            rows.append((shape, width, {k: max(v, key=abs) for k, v in errors.items()}, turns))
    return rows


def eyes(quality=None):
    """Rows: name, true width, measured width, its sd, verdict."""
    rows = []
    for eye in bt.rendered_eyes():
        gray = linear_luminance(eye.picture)
        got = blurs.measure(gray, eye_mask(eye.eyes_px, gray.shape))
        if isinstance(got, NotMeasured):
            rows.append((eye.name, eye.width_px, np.nan, np.nan, Sharpness.NOT_SURE))
            continue
        verdict, _ = verdict_of(got, LIMIT_PX, 1.45 * LIMIT_PX)
        rows.append((eye.name, eye.width_px, got.width_px, got.sd_px, verdict))
    return rows


def causes():
    """The second set of renders, movement included; rows as of `eyes`."""
    rows = []
    for eye in bt.rendered_causes():
        gray = linear_luminance(eye.picture)
        got = blurs.measure(gray, eye_mask(eye.eyes_px, gray.shape))
        if isinstance(got, NotMeasured):
            rows.append((eye.name, eye.width_px, np.nan, np.nan, Sharpness.NOT_SURE))
            continue
        verdict, _ = verdict_of(got, LIMIT_PX, 1.45 * LIMIT_PX)
        rows.append((eye.name, eye.width_px, got.width_px, got.sd_px, verdict))
    return rows


def agreement(rows, limit=LIMIT_PX):
    """Counts outside a band of 15 % round the limit: all, right, not sure, wrong; and dangerous."""
    outside = [r for r in rows if abs(r[1] / limit - 1) > 0.15]
    sharp = [r for r in outside if r[4] is Sharpness.SHARP]
    right = [
        r
        for r in outside
        if r[4] is not Sharpness.NOT_SURE and (r[4] is Sharpness.SHARP) == (r[1] < limit)
    ]
    unsure = [r for r in outside if r[4] is Sharpness.NOT_SURE]
    dangerous = [r for r in sharp if r[1] > 2 * limit]
    return (
        len(outside),
        len(right),
        len(unsure),
        len(outside) - len(right) - len(unsure),
        len(dangerous),
    )


def main():
    charts = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    began = time.process_time()
    lines = [
        "# The blur estimator",
        "",
        "Width: diameter of the disc that spreads as much (four standard deviations).",
        "",
        f"## Known kernels on drawn charts, worst of {charts}",
        "",
        "| kernel | width, px | clean | noise 1 % | and JPEG 80 | direction off, deg |",
        "|---|---|---|---|---|---|",
    ]
    for shape, width, errors, turns in kernels(charts):
        turn = "" if shape != "line" or not turns else f"{max(turns, key=abs):+.0f}"
        lines.append(
            f"| {shape} | {width:g} | "
            + " | ".join(f"{100 * e:+.0f} %" for e in errors.values())
            + f" | {turn} |"
        )
    lines += [
        "",
        "## Photographs that packages carry, halved, noise 0.5 % and JPEG 80",
        "",
        "Truth: the kernel and the photograph's own blur (as measured), added in squares.",
        "",
        "| photograph | own, px | "
        + " | ".join(f"{s} {w:g}" for s in ("gauss", "disc", "line") for w in (3, 6, 12))
        + " |",
        "|---" * 11 + "|",
    ]
    rng = np.random.default_rng(3)
    every = []
    for name, image in bt.photographs():
        own = blurs.measure(image)
        cells = []
        for shape in ("gauss", "disc", "line"):
            for width in (3.0, 6.0, 12.0):
                fine = np.kron(image, np.ones((1, 1), np.float32))
                picture = bt.through_jpeg(bt.noisy(bt.blurred(fine, shape, width, 1), rng, 0.005))
                got = blurs.measure(picture)
                if isinstance(got, NotMeasured) or isinstance(own, NotMeasured):
                    cells.append("not measured")
                    continue
                error = got.width_px / np.hypot(width, own.across_px) - 1
                every.append(abs(error))
                cells.append(f"{100 * error:+.0f} %")
        width = "?" if isinstance(own, NotMeasured) else f"{own.width_px:.1f}"
        lines.append(f"| {name} | {width} | " + " | ".join(cells) + " |")
    lines += [
        "",
        f"Median error {100 * np.median(every):.0f} %, nine in ten under "
        f"{100 * np.quantile(every, 0.9):.0f} %.",
    ]
    lines += _told("Rendered eyes the constants were set on, JPEG 92", eyes())
    second = causes()
    for place, what in (
        ("0", "Second set, first place (looked at while the constants were set)"),
        ("1", "Second set, second place: dim and noisy (looked at likewise)"),
        ("2", "Second set, third place: no constant was set on it"),
    ):
        rows = [r for r in second if r[0].startswith(place)]
        if rows:
            lines += _told(what, rows)
    lines += ["", f"Processor time: {time.process_time() - began:.0f} s."]
    RESULT.parent.mkdir(exist_ok=True)
    RESULT.write_text("\n".join(lines) + "\n")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
