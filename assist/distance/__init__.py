"""How far the person stands: what a measurement is, whatever cues made it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum

from optics.checks import FloatArray


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
    """

    cue: str
    eyes_m: float
    own_sd_m: float
    size: Size


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

    def after(self, seconds: float) -> tuple[float, float]:
        """Depth at that speed after a time, and its standard deviation, both in metres."""
        variance = self.sd_m**2 + seconds * (
            2 * self.speed_covariance_m2_s + seconds * self.speed_sd_m_s**2
        )
        return self.eyes_m + seconds * self.speed_m_s, variance**0.5
