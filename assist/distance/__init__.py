"""How far the person stands: what a measurement is, whatever cues made it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Literal

from optics.checks import FloatArray

Choice = Literal["first", "largest", "nearest"]
"""Whom to follow of several; see `assist.distance.person_tracker`."""


class Size(IntEnum):
    """What a cue takes its distance from: the size of the body, the face or the head."""

    BODY = 0
    FACE = 1
    HEAD = 2


@dataclass(frozen=True, slots=True)
class CueReading:
    """One cue's answer for one picture: axial depth of the eyes.

    own_sd_m: standard deviation of what varies from picture to picture: posture, facing, noise.
    size: what the depth rests on; how well that size is known is the same in all pictures, and is
        not part of own_sd_m (`assist.distance.size_belief`).
    repeated_sd_m: what is left of own_sd_m against another view of the same person in a like
        posture (`assist.distance.reference`); None where that is all of it.
    carried: whether it rests on another cue's reading of a moment ago.
    """

    cue: str
    eyes_m: float
    own_sd_m: float
    size: Size
    repeated_sd_m: float | None = None
    carried: bool = False

    @property
    def repeat_sd_m(self) -> float:
        """Standard deviation against another view of the same person, metres."""
        return self.own_sd_m if self.repeated_sd_m is None else self.repeated_sd_m

    def times(self, factor: float) -> CueReading:
        """The reading by a size that is so many times the assumed one."""
        return replace(
            self,
            eyes_m=self.eyes_m * factor,
            own_sd_m=self.own_sd_m * factor,
            repeated_sd_m=self.repeat_sd_m * factor,
        )


@dataclass(frozen=True, slots=True)
class CueAbsent:
    """A cue that does not apply to this picture, and why, in words for whoever looks into it.

    too_small: whether it would apply if the person were nearer.
    """

    cue: str
    why: str
    too_small: bool = False


@dataclass(frozen=True, slots=True)
class BodyDistance:
    """Where the body is, from one picture of the feed.

    All distances are axial depths z from the feed camera's lens, metres; `sd` are standard
    deviations that include what averaging over frames cannot remove.

    eyes_m: depth of the point midway between the eyes, the point that must be sharp.
    common_sd_m: the part of eyes_sd_m that is the same in all pictures: sizes of body and face,
        focal length, crop. No number of pictures averages it away.
    picture_sd_m: the part of eyes_sd_m that is another in the next picture, and averages away; None
        where that is not known.
    hips_m: depth of the point midway between the hips.
    landmarks_m: (33, 3) landmarks in the camera frame; rows of unseen landmarks are nan.
    """

    eyes_m: float
    eyes_sd_m: float
    hips_m: float
    hips_sd_m: float
    landmarks_m: FloatArray
    readings: tuple[CueReading | CueAbsent, ...]
    common_sd_m: float = 0.0
    picture_sd_m: float | None = None

    def times(self, factor: float, common_sd: float) -> BodyDistance:
        """The same on a scale so many times this one's, known to common_sd, relative."""
        own_m = math.sqrt(max(self.eyes_sd_m**2 - self.common_sd_m**2, 0.0)) * factor
        eyes_m = self.eyes_m * factor
        return replace(
            self,
            eyes_m=eyes_m,
            eyes_sd_m=math.hypot(own_m, common_sd * eyes_m),
            hips_m=self.hips_m * factor,
            hips_sd_m=self.hips_sd_m * factor,
            landmarks_m=self.landmarks_m * factor,
            common_sd_m=common_sd * eyes_m,
            picture_sd_m=None if self.picture_sd_m is None else self.picture_sd_m * factor,
        )


@dataclass(frozen=True, slots=True)
class TrackedDistance:
    """The filtered distance of the eyes at one moment.

    eyes_m, sd_m: depth and standard deviation.   speed_m_s: positive away from the camera.
    common_sd_m: the part of sd_m that stays the same however long somebody is looked at; the rest
        is `own_sd_m`.
    age_s: time since the last picture that was used; 0 when this very picture was.
    speed_sd_m_s, speed_covariance_m2_s: of the speed, and of depth and speed with one another.
    """

    time_s: float
    eyes_m: float
    sd_m: float
    speed_m_s: float
    age_s: float
    speed_sd_m_s: float = 0.0
    speed_covariance_m2_s: float = 0.0
    common_sd_m: float = 0.0

    @property
    def own_sd_m(self) -> float:
        """Standard deviation of what varies from one moment to the next."""
        return math.sqrt(max(self.sd_m**2 - self.common_sd_m**2, 0.0))

    def times(self, factor: float, common_sd: float) -> TrackedDistance:
        """The same on a scale so many times this one's, known to common_sd, relative."""
        eyes_m, common_m = self.eyes_m * factor, common_sd * self.eyes_m * factor
        return replace(
            self,
            eyes_m=eyes_m,
            sd_m=math.hypot(self.own_sd_m * factor, common_m),
            speed_m_s=self.speed_m_s * factor,
            speed_sd_m_s=self.speed_sd_m_s * factor,
            speed_covariance_m2_s=self.speed_covariance_m2_s * factor**2,
            common_sd_m=common_m,
        )

    def after(self, seconds: float) -> tuple[float, float]:
        """Depth at that speed after a time, and its standard deviation, both in metres."""
        variance = self.sd_m**2 + seconds * (
            2 * self.speed_covariance_m2_s + seconds * self.speed_sd_m_s**2
        )
        return self.eyes_m + seconds * self.speed_m_s, variance**0.5
