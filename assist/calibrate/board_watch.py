"""Watching a feed for a printed board, and what that teaches of the feed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from assist.base.errors import UserError
from assist.base.units import parse_length_m
from assist.base.words import _, current
from assist.calibrate.board import Board, BoardCalibration, Kind, calibrate
from assist.feed.opening import frames_of
from assist.setup.feed_profile import FeedProfile

_LEAST_FOCAL_SD = 1e-5
_HOME_PAPER_MM = (279, 210)
"""What A4 and letter paper both have room for: the longer side and the shorter, millimetres."""


@dataclass(frozen=True)
class LearnedFromBoard:
    """The feed's profile, and how well the views fix it."""

    calibration: BoardCalibration

    def profile(self) -> FeedProfile:
        """The profile to keep."""
        found = self.calibration
        focal_sd = max(found.focal_sd, _LEAST_FOCAL_SD)
        return FeedProfile.of_camera(found.camera, "board", focal_sd, error_px=found.error_px)

    def in_words(self) -> str:
        """Pictures, error, focal length and view."""
        found, say = self.calibration, current()
        across = math.degrees(found.camera.horizontal_field_of_view_rad)
        return _(
            "{n} pictures, reprojection error {error} px; focal length {focal} px (sure to {sd}), "
            "view {view} degrees across",
            n=found.used,
            error=say.figure(found.error_px, 2),
            focal=say.figure(found.camera.fx_px, 1),
            sd=say.decimal(f"{found.focal_sd:.2%}"),
            view=say.figure(across, 1),
        )


def learn_from_board(
    board: Board, feed: str, *, seconds: float = 60.0, every_s: float = 0.5, rotation_deg: int = 0
) -> LearnedFromBoard:
    """Watch a feed for so many seconds, and calibrate by the pictures that show the board.

    every_s: the least time between two pictures used.   rotation_deg: what the feed is turned by.
    An interrupt (KeyboardInterrupt) ends it, the feed closed, with nothing learned. Raises
    UserError when the feed does not open, and as `assist.calibrate.board.calibrate` does.
    """
    pictures, looked_at, last_s = [], 0, -math.inf
    for frame in frames_of(feed, rotation_deg, seconds):
        if frame.time_s - last_s < every_s:
            continue
        looked_at += 1
        if board.find(frame.picture) is not None:
            pictures.append(frame.picture.copy())
            last_s = frame.time_s
    return LearnedFromBoard(calibrate(board, pictures, looked_at))


def board_of(kind: Kind, squares: str, square: str) -> Board:
    """A board as people describe it: "8x6" squares of "25mm". UserError where it cannot be."""
    try:
        columns, rows = (int(part) for part in squares.lower().split("x"))
    except ValueError as error:
        raise UserError(_("--squares: write it as 8x6, not {given}", given=squares)) from error
    try:
        side_mm = 1000 * parse_length_m(square, "mm")
    except ValueError as error:
        raise UserError(_("{option}: {error}", option="--square", error=error)) from error
    return Board(kind, columns, rows, side_mm)


def fits_home_paper(width_mm: float, height_mm: float) -> bool:
    """Whether A4 and letter paper both have room for it, lying or upright."""
    longer, shorter = _HOME_PAPER_MM
    return max(width_mm, height_mm) <= longer and min(width_mm, height_mm) <= shorter
