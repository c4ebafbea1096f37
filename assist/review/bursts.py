"""Pictures taken in one go, and which of them is best."""

from __future__ import annotations

from assist.review.checked import CheckedPicture, Sharpness
from assist.review.matching import seconds

_GAP_S = 2.5
_ORDER = {
    Sharpness.SHARP.value: 0,
    Sharpness.ACCEPTABLE.value: 1,
    Sharpness.NOT_SURE.value: 2,
    Sharpness.SOFT.value: 3,
}


def goodness(checked: CheckedPicture) -> tuple[int, bool, bool, int, int, float]:
    """Sort key, the best first: readable, judged, verdict, whole in the frame, least blur.

    Not judged, as where the face is turned away, comes after soft; with no one in it, last.
    """
    judged = checked.blur_px is not None
    return (
        1 if checked.problem else 0,
        not judged,
        not judged and checked.framing is None,
        _ORDER[checked.verdict],
        0 if "head" not in checked.cut else 1,
        float("inf") if checked.blur_px is None else checked.blur_px,
    )


def rank(pictures: list[CheckedPicture]) -> list[CheckedPicture]:
    """The same pictures in the same order, with burst, rank and size of the burst filled in.

    A burst is two or more that belong to one attempt or follow each other within 2.5 s.
    """
    dated = sorted(
        (i for i, p in enumerate(pictures) if p.taken_at is not None),
        key=lambda i: seconds(pictures[i].taken_at),  # type: ignore[arg-type]
    )
    groups: list[list[int]] = []
    for i in dated:
        if groups:
            last = pictures[groups[-1][-1]]
            this = pictures[i]
            assert last.taken_at is not None and this.taken_at is not None
            near = seconds(this.taken_at) - seconds(last.taken_at) <= _GAP_S
            same = this.attempt is not None and this.attempt == last.attempt
            if near or same:
                groups[-1].append(i)
                continue
        groups.append([i])
    ranked = list(pictures)
    for number, group in enumerate((g for g in groups if len(g) > 1), start=1):
        for place, i in enumerate(sorted(group, key=lambda i: goodness(pictures[i])), start=1):
            ranked[i] = pictures[i].model_copy(
                update={"burst": number, "rank": place, "of": len(group)}
            )
    return ranked
