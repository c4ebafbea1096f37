"""ISO 9241-303's least height of characters (from memory), measured on the tightest screens."""

import numpy as np
import pytest

from assist.base.words import Words
from assist.distance import TrackedDistance
from assist.feed import Frame
from assist.guidance.assistant import Moment
from assist.guidance.narrator import Narrator
from assist.guidance.verdict import Judge
from assist.output.screen import palette
from tests.benchmarks import legibility


@pytest.mark.parametrize("language", legibility.LANGUAGES)
@pytest.mark.parametrize("size", [(1280, 720), (720, 1280)])
def test_what_moves_or_warns_is_read_from_where_the_person_stands(size, language):
    say = Words(language)
    narrator, picture = Narrator(legibility.ZONE, say), np.zeros((720, 1280, 3), np.uint8)
    kinds = set()
    for guidance, place_m, timer in legibility.guidances():
        at = None if guidance.unmeasured else TrackedDistance(0, place_m, 0.1, 0, 0)
        judged = Judge(legibility.ZONE).judge(at)
        moment = Moment(Frame(picture, 0.0, 0), None, None, judged, guidance, None)
        message = narrator.tell(moment, timer)
        for line in legibility.shown(message, size, palette.PLAIN, say, place_m):
            kinds.add(line.kind)
            assert line.arc_minutes >= legibility.LEAST[line.kind] - 0.05, line
    assert kinds == set(legibility.LEAST)


def test_a_caution_is_never_what_has_no_room():
    """Whoever moves backwards in their own frame is warned on the screen itself."""
    say = Words("de")
    narrator, picture = Narrator(legibility.ZONE, say), np.zeros((720, 1280, 3), np.uint8)
    for guidance, place_m, timer in legibility.guidances():
        at = None if guidance.unmeasured else TrackedDistance(0, place_m, 0.1, 0, 0)
        judged = Judge(legibility.ZONE).judge(at)
        moment = Moment(Frame(picture, 0.0, 0), None, None, judged, guidance, None)
        message = narrator.tell(moment, timer)
        shown = legibility.shown(message, (1280, 720), palette.PLAIN, say, place_m)
        words = " ".join(line.words for line in shown)
        if message.caution:
            assert message.caution.upper() in words
