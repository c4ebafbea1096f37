"""An unguided run of the fuzz targets, by hand: `python -m tests.fuzz.at_random TARGET ...`.

Needs nothing but the project's own test environment, and gets through many more cases a second than
the coverage-guided run (`tests/fuzz/by_hand.py`), of which fewer are new.
"""

from __future__ import annotations

import argparse
import random
import resource
import sys
import time
import traceback

from tests.fuzz.targets import TARGETS, Target

CASE_S = 10
_EDITS = 6


def case(chance: random.Random, target: Target, seeds: list[bytes]) -> bytes:
    """A seed with a few bytes changed, or bytes of no kind."""
    if chance.random() < 0.2:
        return chance.randbytes(chance.randrange(60))
    content = bytearray(chance.choice(seeds))
    for _ in range(chance.randrange(1, _EDITS)):
        at = chance.randrange(len(content) + 1)
        length = chance.randrange(9)
        how = chance.randrange(4)
        if how == 0:
            content[at:at] = chance.randbytes(length)
        elif how == 1:
            del content[at : at + length]
        elif how == 2 and at < len(content):
            content[at] ^= 1 << chance.randrange(8)
        else:
            content[at : at + length] = chance.randbytes(length)
    return bytes(content[: target.most])


def main() -> int:
    """Run the targets named, or all; exit code 1 when any found something."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("targets", nargs="*", default=list(TARGETS))
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seconds", type=float, default=600, help="at most, for each target")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    bad = False
    for name in chosen.targets:
        target, chance = TARGETS[name], random.Random(chosen.seed)
        seeds = target.seeds()
        began_s, slowest_s, cases, result = time.monotonic(), 0.0, 0, "clean"
        while cases < chosen.cases and time.monotonic() - began_s < chosen.seconds:
            content = seeds[cases] if cases < len(seeds) else case(chance, target, seeds)
            case_began_s = time.process_time()
            try:
                target.run(content)
            except Exception:
                traceback.print_exc()
                result = f"FOUND {content!r}"
            took_s = time.process_time() - case_began_s
            slowest_s, cases = max(slowest_s, took_s), cases + 1
            if took_s > CASE_S:
                result = f"SLOW {content!r}"
            if result != "clean":
                bad = True
                break
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(
            f"{name}: {cases} cases, {time.monotonic() - began_s:.0f} s, "
            f"slowest {slowest_s:.2f} s, peak {peak_mb} MB, {result}",
            flush=True,
        )
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
