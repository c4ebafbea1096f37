"""The README's two lines of accuracy, made of the kept results.

    python -m tests.benchmarks.accuracy_lines

`tests/assist/test_readme.py` fails where they, or a table of the guide, are not of the results.
"""

from __future__ import annotations

from tests.benchmarks.tables import RESULTS, ROOT, put_between


def rows_of(result: str) -> list[dict[str, str]]:
    """The rows of the first table in a kept result, by the header's words."""
    lines = (RESULTS / f"{result}.md").read_text(encoding="utf-8").splitlines()
    cells = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in lines if line[:1] == "|"
    ]
    return [dict(zip(cells[0], row, strict=True)) for row in cells[2:] if len(row) == len(cells[0])]


def of_clip() -> str:
    """What is said of the shipped clip."""
    row = rows_of("live_clip")[0]
    half, most = (row[name].replace("%", " %") for name in ("median error", "95 % within"))
    return (
        f"- On the shipped clip, with only the height known, half of the distances are within "
        f"{half} of the truth and nineteen of twenty within {most}; of the pictures outside "
        f"the zone {row['wrongly called in focus']} were called in focus."
    )


def of_bodies() -> str:
    """What is said of rendered bodies on which no constant was set."""
    row = rows_of("honesty")[0]
    return (
        f"- Of rendered people of 1.45 to 2.00 m on whom nothing was tuned, half are within "
        f"{row['median %']} % and nineteen of twenty within {row['p95 %']} %; of the times it said "
        f'"in focus" in a zone of ±12 %, {row["wrong of calls, 12 % zone"]} were wrong.'
    )


def main() -> None:
    """Put both into the README."""
    put_between(ROOT / "README.md", "accuracy-short", of_clip())
    put_between(ROOT / "README.md", "honesty-short", of_bodies())


if __name__ == "__main__":
    main()
