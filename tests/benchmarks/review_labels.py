"""How often the review's verdict on rendered eyes agrees with the lens that rendered them.

    python -m tests.benchmarks.review_labels

Five sets of crops with known blur (tests/assist/data). Verdicts are counted where the true blur is
more than 15 % off the limit; the stated 90 % interval is checked on all. Writes
tests/benchmarks/results/review_labels.md.
"""

import time

import numpy as np

from tests.assist import blur_truth as bt
from tests.benchmarks import review_blur, tables

SETS = {
    "eyes": review_blur.eyes,
    "causes": review_blur.causes,
    "third": lambda: review_blur.causes(bt.THIRD),
    "fourth": lambda: review_blur.causes(bt.FOURTH),
    "fifth": lambda: review_blur.causes(bt.FIFTH),
}


def row(name, crops, cpu_s):
    """One line of the table."""
    outside, right, unsure, wrong, dangerous = review_blur.agreement(crops)
    ratio = np.array([m / t - 1 for _, t, m, _, _ in crops if t > 0.5 * review_blur.LIMIT_PX])
    return (
        name, str(len(crops)), str(outside), str(right), str(unsure), str(wrong), str(dangerous),
        f"{100 * review_blur.interval_held(crops):.0f} %",
        f"{100 * np.nanmedian(ratio):+.0f} %", f"{100 * np.nanquantile(abs(ratio), 0.9):.0f} %",
        f"{1000 * cpu_s / len(crops):.0f}",
    )  # fmt: skip


def main():
    rows, every, total_s = [], [], 0.0
    for name, crops_of in SETS.items():
        began_s = time.process_time()
        crops = crops_of()
        cpu_s = time.process_time() - began_s
        rows.append(row(name, crops, cpu_s))
        every += crops
        total_s += cpu_s
    rows.append(row("all", every, total_s))
    header = (
        "set", "crops", "outside 15 %", "right", "not sure", "wrong", "sharp over twice the limit",
        "90 % interval held", "median error", "nine in ten within", "processor, ms a crop",
    )  # fmt: skip
    tables.keep(
        "review_labels",
        "# Verdicts on rendered eyes\n\n"
        f"Limit {review_blur.LIMIT_PX:.2f} px. Errors from half the limit on.\n\n"
        f"{tables.machine()}\n\n" + tables.table(header, rows),
    )


if __name__ == "__main__":
    main()
