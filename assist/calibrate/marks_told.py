"""What was learned at marks, line by line."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path

from assist.base.words import _, current
from assist.calibrate.at_marks import LearnedAtMarks, depths_m
from assist.calibrate.tape import Measured

_MANY = 0.2
"""Share of the pictures from which on it is worth saying why they were left out."""
_SAME = 0.5
"""Spread of the postures below which they hardly differ."""


def lines(done: LearnedAtMarks, out: Path, feed_out: Path | None) -> Iterator[str]:
    """All that is worth saying; `out`, `feed_out`: where the profiles are, None where not kept."""
    yield _placed(done)
    learned, found, say = done.learned, done.learned.separation, current()
    profile = done.profile(with_feed=feed_out is not None)
    reasons = {**learned.left_out, _("no one was seen"): done.without}
    left_out = sum(reasons.values())
    if left_out > _MANY * (learned.fit + left_out):
        why = ", ".join(
            _("in {n} {reason}", n=number, reason=reason)
            for reason, number in reasons.items()
            if number
        )
        yield _(
            "{n} of {of} pictures were left out: {why}",
            n=left_out,
            of=learned.fit + left_out,
            why=why,
        )
    figures = {
        "used": learned.used,
        "left_out": left_out,
        "scale": say.figure(profile.scale, 3),
        "scale_sd": say.decimal(f"{found.size_sd:.1%}"),
        "focal": say.figure(found.focal, 3),
        "focal_sd": say.decimal(f"{found.focal_sd:.1%}"),
    }
    if learned.used == learned.fit:
        yield _(
            "learned from {used} pictures ({left_out} left out): a body {scale} times the "
            "detector's adult (sure to {scale_sd}), a focal length {focal} times the assumed one "
            "(sure to {focal_sd})",
            **figures,
        )
    else:
        yield _(
            "learned from {used} pictures, evenly taken of {fit} ({left_out} left out): a body "
            "{scale} times an average adult (sure to {scale_sd}), a focal length {focal} times "
            "the assumed one (sure to {focal_sd})",
            fit=learned.fit,
            **figures,
        )
    yield found.in_words()
    if not found.separated:
        if feed_out is not None:
            yield _(
                "the two profiles belong together: use {profile} with {feed}",
                profile=out,
                feed=feed_out,
            )
        else:
            yield _(
                "the focal length was not kept: with --feed-out FILE, and both profiles used, "
                "distances are known to {both}; without it to {alone}",
                both=say.decimal(f"{found.product_sd:.1%}"),
                alone=say.decimal(f"{profile.scale_sd:.1%}"),
            )
    if learned.varied < _SAME:
        yield _(
            "the postures hardly differed: turn half to each side and step in place next time, for "
            "an error of one posture is there in all its pictures"
        )
    yield _("the profile is in {file}", file=out)


def contradiction(tilts_rad: Sequence[float], taken_rad: float) -> str:
    """That the feet ask for other tilts than the one that is taken."""
    say = current()
    return _(
        "the feet are where tilts of {tilts} degrees would put them, not {taken}: check tilt, "
        "height and marks",
        tilts=", ".join(say.figure(math.degrees(tilt), 1) for tilt in tilts_rad),
        taken=say.figure(math.degrees(taken_rad), 1),
    )


def _measured(measured: Measured, depths: str) -> str:
    if measured == "face":
        return _(
            "measured from the camera to the eyes: the body at depth {depths} from the lens",
            depths=depths,
        )
    if measured == "axis":
        return _(
            "measured along the camera's axis: the body at depth {depths} from the lens",
            depths=depths,
        )
    return _(
        "measured along the floor from below the camera: the body at depth {depths} from the lens",
        depths=depths,
    )


def _placed(done: LearnedAtMarks) -> str:
    """What was taken to be measured, and how the camera was taken to look."""
    say, attitude = current(), done.attitude
    depths = ", ".join(f"{say.figure(depth, 2)} m" for depth in depths_m(done.marks))
    text = _measured(done.request.measured, depths)
    if done.request.measured == "axis":
        return text
    tilt = say.figure(math.degrees(attitude.tilt_rad), 1)
    worst = say.decimal(f"{max(mark.depth_sd for mark in done.marks):.1%}")
    if attitude.source == "given":
        return f"{text}; " + _("tilt {tilt} degrees as given", tilt=tilt)
    if attitude.source == "estimated":
        return f"{text}; " + _(
            "tilt {tilt} degrees by where the feet are, which leaves {worst}",
            tilt=tilt,
            worst=worst,
        )
    level = _(
        "the camera was assumed to be level: if it is tilted by 5 degrees this is wrong by {worst}",
        worst=worst,
    )
    return f"{text}; {level}; {_mend(done)}"


def _mend(done: LearnedAtMarks) -> str:
    if done.request.holding.height_m is None:
        return _("give --tilt, or --camera-height with your feet in view")
    if done.request.geometry.focal_sd is None:
        return _(
            "without a lens, angle of view or feed profile the camera's height does not tell it; "
            "give --tilt"
        )
    return _("your feet were hardly in view, or not where any tilt would put them; give --tilt")
