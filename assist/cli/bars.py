"""Black bars in a feed without a profile: what they do to the distances, and how to mend it."""

from __future__ import annotations

import shlex
from collections.abc import Callable

from assist.assistant import Known
from assist.calibrate.framing import PictureArea, camera_of_output
from assist.feed import Source
from assist.feed.bars import BarsWatch
from assist.set_up import SetUp
from assist.trouble import Notices, Trouble

_WORTH_TELLING = 0.01


def watched(
    source: Source,
    feed: str,
    rotation_deg: int,
    chosen: SetUp,
    known: Known,
    notices: Notices,
    note: Callable[[str], None],
) -> Source:
    """The feed, looked over for black bars where it has no profile that knows of them.

    `note` takes one line for the user; `notices` has it told to the person where distances suffer.
    """
    if known.feed is not None:
        return source

    def found(area: PictureArea, width_px: int, height_px: int) -> None:
        line = told(area, width_px, height_px, feed, rotation_deg, chosen, known.person is not None)
        note(line)
        wrong = distances_wrong_by(area, width_px, height_px, chosen)
        if abs(wrong) >= _WORTH_TELLING and known.person is None:
            notices.tell(Trouble.BARS, line)

    return BarsWatch(source, found)


def told(
    area: PictureArea,
    width_px: int,
    height_px: int,
    feed: str,
    rotation_deg: int,
    chosen: SetUp,
    calibrated: bool,
) -> str:
    """One line: the bars, what they do, and the command that makes a profile without them.

    calibrated: with a personal profile, which makes up for it where it was learned with this feed.
    """
    text = (
        f"the feed has black bars: of its {width_px}x{height_px} the picture is "
        f"{area.width_px}x{area.height_px}"
    )
    wrong = distances_wrong_by(area, width_px, height_px, chosen)
    if abs(wrong) >= _WORTH_TELLING:
        text += f", and distances are told {abs(wrong):.0%} too {'long' if wrong > 0 else 'short'}"
        if calibrated:
            text += " unless your profile was learned with them"
    return (
        f"{text}; to be rid of them: {_command(feed, rotation_deg, chosen)}, then "
        "--feed-profile feed.toml"
    )


def distances_wrong_by(area: PictureArea, width_px: int, height_px: int, chosen: SetUp) -> float:
    """Distance told over the true one less 1, where the bars are taken for picture."""
    taken = chosen.feed_camera(width_px, height_px).fx_px
    if _stated_view(chosen) is not None:
        true = chosen.feed_camera(area.width_px, area.height_px).fx_px
    else:
        true = camera_of_output(
            chosen.sensor,
            chosen.focal_length_m,
            chosen.focus_lens_distance_m,
            area,
            chosen.feed.crop,
        ).fx_px
    return taken / true - 1


def _stated_view(chosen: SetUp) -> tuple[str, float] | None:
    """Along what the feed's angle of view is stated, and the angle in degrees."""
    for along in ("horizontal", "vertical", "diagonal"):
        angle_deg = getattr(chosen.feed, f"{along}_field_of_view_deg")
        if angle_deg is not None:
            return along, float(angle_deg)
    return None


def _command(feed: str, rotation_deg: int, chosen: SetUp) -> str:
    view = _stated_view(chosen)
    if view is not None:
        words = ["view", feed, f"--{view[0]}", f"{view[1]:g}deg"]
    else:
        lens = chosen.lens
        words = ["lens", feed, "--lens", f"{lens.focal_length_mm:g}mm"]
        words += ["--focus", f"{lens.focus_distance_m:g}m".replace("infm", "inf")]
        if chosen.camera.sensor != "full-frame":
            words += ["--sensor", chosen.camera.sensor]
        if chosen.feed.crop != 1:
            words += ["--crop", f"{chosen.feed.crop:g}"]
    if rotation_deg:
        words += ["--rotate", str(rotation_deg)]
    return shlex.join(["assist", "calibrate", *words, "--out", "feed.toml"])
