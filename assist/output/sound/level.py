"""How loud: a volume in per cent and the level that it means.

Levels are peaks relative to digital full scale (dBFS). How loud that is to an ear depends on the
amplifier, the loudspeaker and the distance, none of which the program can know.
"""

from __future__ import annotations

import math

from assist.base.errors import UserError
from assist.base.words import _

CAP_DBFS = -6.0
"""No sample is ever above this, whatever the volume and whatever sounds at once."""
DEFAULT_VOLUME = 70


def check_volume(percent: int) -> int:
    """The volume itself; UserError unless it is from 0 to 100."""
    if not 0 <= percent <= 100:
        raise UserError(_("--volume must be from 0 to 100, not {value}", value=percent))
    return percent


def peak_dbfs(volume_percent: float) -> float:
    """Highest level at that volume: CAP_DBFS at 100, 12 dB less for each halving; -inf at 0."""
    if volume_percent <= 0:
        return -math.inf
    return CAP_DBFS + 40.0 * math.log10(min(volume_percent, 100.0) / 100.0)


def amplitude(level_dbfs: float) -> float:
    """Peak amplitude, full scale being 1, of a level in dBFS."""
    return 0.0 if level_dbfs == -math.inf else float(10.0 ** (level_dbfs / 20.0))
