"""How well the blur estimator does: known kernels, photographs, rendered eyes.

    python -m tests.benchmarks.review_blur [CHARTS]

Writes tests/benchmarks/results/review_blur.md.
"""

import sys
import time
from pathlib import Path

import numpy as np

from assist.review.blur.luminance import linear_luminance
from assist.review.blur.measure import NotMeasured, measure
from assist.review.checked import Sharpness
from assist.review.diagnosis import verdict_of
from tests.assist import blur_truth as bt

RESULT = Path(__file__).parent / "results" / "review_blur.md"
QUALITIES = (70, 80, 90, 95)
LIMIT_PX = np.hypot(36, 24) / 1500 / 36 * 6000


def eye_mask(eyes_px, shape, unit_scale=(0.42, 0.60, 0.38)):
    """Boxes round the eyes as the review takes them: aside, above and below."""
    unit = float(np.hypot(*(eyes_px[0] - eyes_px[1])))
    mask = np.zeros(shape, bool)
    for x, y in eyes_px:
        w, top, h = (part * unit for part in unit_scale)
        mask[max(0, int(y - top)) : int(y + h) + 1, max(0, int(x - w)) : int(x + w) + 1] = True
    return mask


def _told(title, rows):
    """A set of renders in words and as a table."""
    ratio = np.array([r[2] / r[1] - 1 for r in rows if r[1] > 0.5 * LIMIT_PX])
    seen, right, unsure, wrong, dangerous = agreement(rows)
    return [
        "",
        f"## {title} ({len(rows)} crops), limit {LIMIT_PX:.2f} px",
        "",
        f"Median relative error from half the limit on: {100 * np.nanmedian(ratio):+.0f} %; nine "
        f"in ten within {100 * np.nanquantile(abs(ratio), 0.9):.0f} %; the stated 90 % interval "
        f"held {100 * interval_held(rows):.0f} %.",
        "",
        f"Outside 15 % round the limit: {seen} crops, {right} right "
        f"({100 * right / seen:.0f} %), {unsure} not sure, {wrong} wrong; {dangerous} called "
        "sharp with a true blur over twice the limit.",
        "",
        "| crop | true, px | measured | sd | verdict |",
        "|---|---|---|---|---|",
        *(f"| {n} | {t:.2f} | {m:.2f} | {s:.2f} | {v.value} |" for n, t, m, s, v in rows),
    ]


def interval_held(rows):
    """The share of crops whose truth lies in the stated 90 % interval."""
    return np.mean([abs(r[2] - r[1]) < 1.645 * r[3] for r in rows])


def _error(picture, width, packed=None):
    """Relative error of the width, and the direction."""
    got = measure(picture, compression=packed)
    if isinstance(got, NotMeasured):
        return np.nan, None
    return got.width_px / width - 1, got.direction_deg


WAYS = ("clean", "noise", *(f"JPEG {quality}" for quality in QUALITIES), "JPEG 80, not told")


def kernels(charts=6):
    """Rows: shape, width, the relative errors of every way, one of each chart, and directions off.

    Every chart is drawn and its noise made anew; with its noise it goes through JPEG.
    """
    drawn = [bt.chart(320, seed) for seed in range(charts)]
    for shape in ("gauss", "disc", "line"):
        for width in bt.WIDTHS_PX:
            errors = {way: [] for way in WAYS}
            turns = []
            for seed, chart in enumerate(drawn):
                image = bt.blurred(chart, shape, width)
                noisy = bt.noisy(image, np.random.default_rng(1000 + seed))
                pictures = [(image, None), (noisy, None)]
                pictures += [bt.compressed(noisy, quality) for quality in QUALITIES]
                pictures += [(bt.through_jpeg(noisy), None)]
                for way, (picture, packed) in zip(WAYS, pictures, strict=True):
                    error, direction = _error(picture, width, packed)
                    errors[way].append(error)
                    if direction is not None and shape == "line":
                        turns.append(direction - bt.LINE_DEG)
            yield shape, width, errors, turns


def colours(charts=3):
    """Rows: shape, width, relative errors of tinted charts without and with chroma left out."""
    for shape in ("gauss", "disc"):
        for width in (1.5, 3.0, 6.0):
            errors = {sampling: [] for sampling in ("444", "420")}
            for seed in range(charts):
                image = bt.blurred(bt.chart(320, seed), shape, width)
                noisy = bt.noisy(image, np.random.default_rng(2000 + seed)).clip(0, 1)
                for sampling, found in errors.items():
                    picture, packed = bt.compressed_in_colour(noisy, sampling)
                    found.append(_error(picture, width, packed)[0])
            yield shape, width, errors


def measured(rendered):
    """Of rendered crops: name, true width, measured width, its sd, verdict."""
    rows = []
    for eye in rendered:
        gray = linear_luminance(eye.picture)
        got = measure(gray, eye_mask(eye.eyes_px, gray.shape), compression=eye.compression)
        if isinstance(got, NotMeasured):
            rows.append((eye.name, eye.width_px, np.nan, np.nan, Sharpness.NOT_SURE))
            continue
        verdict, _ = verdict_of(got, LIMIT_PX, 1.45 * LIMIT_PX)
        rows.append((eye.name, eye.width_px, got.width_px, got.sd_px, verdict))
    return rows


def eyes():
    """The first set of renders."""
    return measured(bt.rendered_eyes())


def causes(folder=bt.CAUSES):
    """The second set of renders or a further one, movement included."""
    return measured(bt.rendered_causes(folder))


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


def _per_cent(errors):
    return f"{100 * max(errors, key=abs):+.0f} % | {100 * np.sqrt(np.mean(np.square(errors))):.0f}"


def _charts(charts):
    """The drawn charts in words and as a table."""
    lines = [
        "# The blur estimator",
        "",
        "Width: diameter of the disc that spreads as much (four standard deviations).",
        "",
        f"## Known kernels on drawn charts: the worst of {charts} charts, and the root mean square "
        "in %",
        "",
        "Noise: 1 %, and under every JPEG. Not told: without the steps of the file, as after an "
        "editor.",
        "",
        "| kernel | width, px | " + " | ".join(f"{way} | rms" for way in WAYS) + " | direction "
        "off, deg |",
        "|---" * (2 * len(WAYS) + 3) + "|",
    ]
    every = {way: [] for way in WAYS}
    for shape, width, errors, turns in kernels(charts):
        turn = f"{max(turns, key=abs):+.0f}" if turns else ""
        cells = " | ".join(_per_cent(found) for found in errors.values())
        lines.append(f"| {shape} | {width:g} | {cells} | {turn} |")
        for way, found in errors.items():
            every[way] += found
    within = ", ".join(
        f"{way} {100 * np.mean(np.abs(found) < 0.10):.0f} %" for way, found in every.items()
    )
    lines += ["", f"Within 10 %, of all charts and kernels: {within}.", ""]
    lines += [
        "Tinted charts through JPEG 80, worst of 3; chroma whole (4:4:4) and halved (4:2:0):",
        "",
        "| kernel | width, px | 4:4:4 | 4:2:0 |",
        "|---|---|---|---|",
    ]
    for shape, width, errors in colours():
        cells = " | ".join(f"{100 * max(found, key=abs):+.0f} %" for found in errors.values())
        lines.append(f"| {shape} | {width:g} | {cells} |")
    return lines


def _photographs():
    """Photographs blurred by drawing, as a table and in words."""
    kernels_drawn = [(s, w) for s in ("gauss", "disc", "line") for w in (3.0, 4.0, 6.0, 8.0, 12.0)]
    lines = [
        "",
        "## Photographs that packages carry, halved, noise 0.5 % and JPEG 80",
        "",
        "Truth: the kernel as drawn and the photograph's own blur (as measured), added in squares. "
        f"The last {len(bt.LATER_PHOTOGRAPHS)} were kept aside until all but one constant was set.",
        "",
        "| photograph | own, px | " + " | ".join(f"{s} {w:g}" for s, w in kernels_drawn) + " |",
        "|---" * (2 + len(kernels_drawn)) + "|",
    ]
    rng = np.random.default_rng(3)
    every = {"clean": [], "noise": [], "JPEG 80": []}
    for name, image in bt.photographs(bt.PHOTOGRAPHS + bt.LATER_PHOTOGRAPHS):
        own = measure(image)
        if isinstance(own, NotMeasured):
            lines.append(f"| {name} | not measured |" + " |" * len(kernels_drawn))
            continue
        cells = []
        for shape, width in kernels_drawn:
            clean = bt.blurred(image, shape, width, 1)
            noisy = bt.noisy(clean, rng, 0.005)
            truth = np.hypot(bt.drawn_width(shape, width, 1), own.across_px)
            pictures = [(clean, None), (noisy, None), bt.compressed(noisy)]
            for found, (picture, packed) in zip(every.values(), pictures, strict=True):
                found.append(_error(picture, truth, packed)[0])
            cells.append(f"{100 * found[-1]:+.0f} %")
        lines.append(f"| {name} | {own.width_px:.1f} | " + " | ".join(cells) + " |")
    lines += [
        "",
        "; ".join(
            f"{way}: median error {100 * np.nanmedian(np.abs(found)):.0f} %, nine in ten under "
            f"{100 * np.nanquantile(np.abs(found), 0.9):.0f} %"
            for way, found in every.items()
        )
        + ".",
    ]
    return lines


def main():
    charts = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    began = time.process_time()
    lines = _charts(charts)
    lines += _photographs()
    lines += _told("Rendered eyes the constants were set on, JPEG 92", eyes())
    second = causes()
    for place, what in (
        ("0", "Second set, first place (constants were set on it)"),
        ("1", "Second set, second place: dim and noisy (constants were set on it)"),
        ("2", "Second set, third place (looked at since)"),
    ):
        rows = [r for r in second if r[0].startswith(place)]
        if rows:
            lines += _told(what, rows)
    for folder, what in (
        (bt.THIRD, "Third set, one place in three dim (constants were set on it since)"),
        (bt.FOURTH, "Fourth set, dim and against the light (constants were set on it)"),
        (bt.FIFTH, "Fifth set, dim and against the light: no constant was set on it"),
    ):
        lines += _told(what, causes(folder))
    lines += ["", f"Processor time: {time.process_time() - began:.0f} s."]
    RESULT.parent.mkdir(exist_ok=True)
    RESULT.write_text("\n".join(lines) + "\n")
    print("\n".join(lines))


if __name__ == "__main__":
    main()
