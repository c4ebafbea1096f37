"""Whether somebody stayed at the mark while it was watched."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assist.base.errors import UserError
from assist.base.words import _, current

_PLACE_M = 0.5
"""What stepping in place, turning half to each side and sitting down move the body's axis by.
Common practice, no source."""
_POSTURE = 0.1
"""How far the measured depth changes with the posture alone, relative: 4 to 6 % in three rendered
people who turn round on the spot, 12 % in one who turns a wheeled seat, and 1 % in who stands."""
_APART = (5.0, 95.0)
"""Percentiles between which somebody is said to have been: single pictures may be misread, and half
a second of arriving does no harm."""


def refuse_walking(depths_m: Sequence[float], stated: str) -> None:
    """UserError where the body was at quite different depths during the watch.

    depths_m: of the body's axis, as measured in pictures that are even in time.
    stated: the mark as the person calls it.
    """
    low_m, middle_m, high_m = np.percentile(depths_m, (_APART[0], 50.0, _APART[1]))
    if high_m - low_m > _PLACE_M + _POSTURE * middle_m:
        raise UserError(
            _(
                "you moved between {low} and {high} m while the mark at {stated} was watched: "
                "stand over it all the time, and take a longer --wait if you need it to get there",
                low=current().decimal(f"{low_m:.1f}"),
                high=current().decimal(f"{high_m:.1f}"),
                stated=stated,
            )
        )
