"""What a review says is kept in English and told in the reader's language."""

import json
from datetime import datetime
from html.parser import HTMLParser

import pytest

from assist.base.words import Words, speaking
from assist.review import export, report
from assist.review.blur.measure import Blur
from assist.review.checked import CheckedPicture
from assist.review.diagnosis import PlaceBlur, Where, diagnose
from assist.review.matching import Match
from assist.review.sentence import Sentence, told
from assist.review.session_attempts import contradiction, without_attempt
from assist.review.tags import PictureTags
from assist.review.taking_lens import taken_with
from assist.setup.body import Posture
from tests.assist.test_session import SET_UP, attempt


class Marked(Words):
    """A language in which each message stands in brackets."""

    def gettext(self, message, **values):
        return f"[{message.format(**values) if values else message}]"

    def ngettext(self, one, many, n, **values):
        return f"[{(one if n == 1 else many).format(n=n, **values)}]"

    def pgettext(self, context, message, **values):
        if context == "decimal mark":
            return ","
        return f"[{message.format(**values) if values else message}]"


LENS = taken_with(PictureTags(focal_length_mm=35, f_number=2.0), 6000, 4000, SET_UP)
LENS_UNKNOWN = taken_with(PictureTags(), 6000, 4000, None)


def blur(width_px, across_px=None, direction_deg=None):
    across_px = width_px if across_px is None else across_px
    return Blur(width_px, 0.4, across_px, direction_deg, {}, 50)


NEARER = [PlaceBlur("left hand", "nearer", blur(2.0))]
FARTHER = [PlaceBlur("background left", "farther", blur(2.0))]
JUDGED = {
    "sharp": (blur(3.0), [], LENS, None, None),
    "near the limit": (blur(4.8), [], LENS, None, None),
    "smeared aside": (blur(9.0, 2.0, 5.0), [], LENS, None, 1 / 30),
    "smeared upright": (blur(9.0, 2.0, 90.0), FARTHER, LENS, None, None),
    "smeared aslant": (blur(9.0, 2.0, 45.0), [], LENS, None, 0.5),
    "inside the zone": (blur(9.0), [], LENS, Where(4.0, 0.1), None),
    "inside, nearer sharp": (blur(9.0), NEARER, LENS, Where(4.0, 0.1), None),
    "inside, farther sharp": (blur(9.0), FARTHER, LENS, Where(4.0, 0.1), None),
    "behind": (blur(9.0), [], LENS, Where(6.0, 0.1), None),
    "far behind": (blur(99.0), [], LENS, Where(30.0, 0.1), None),
    "in front": (blur(9.0), [], LENS, Where(2.5, 0.1), None),
    "no place, nearer sharp": (blur(9.0), NEARER, LENS_UNKNOWN, None, None),
    "no place, farther sharp": (blur(9.0), FARTHER, LENS_UNKNOWN, None, None),
    "no place": (blur(9.0), [], LENS_UNKNOWN, None, None),
}


@pytest.mark.parametrize("posture", [Posture.STANDING, Posture.NOT_SURE])
@pytest.mark.parametrize("case", JUDGED)
def test_a_judgement_is_kept_in_english_and_told_in_another_language(case, posture):
    with speaking(Marked()):
        judged = diagnose(*JUDGED[case], posture)
        for kept in (judged.why, judged.change):
            assert "[" not in kept
            if kept:
                assert told(kept).startswith("[")
                assert told(kept).replace("[", "").replace("]", "").replace(",", ".") == str(
                    kept
                ).replace(",", ".")


def test_files_hold_the_english_and_the_picture_keeps_its_sentence():
    why = diagnose(*JUDGED["behind"]).why
    picture = CheckedPicture(file="a", why=why, notes=(why,), verdict="soft")
    assert isinstance(picture.why, Sentence)
    with speaking(Marked()):
        [read] = json.loads(export.pictures_json([picture]))["pictures"]
        assert str(why) in export.pictures_csv([picture]).decode()
    assert (read["why"], read["notes"]) == (str(why), [str(why)])
    again = CheckedPicture.model_validate(read)
    assert told(again.why) == why


class Shown(HTMLParser):
    """Every text that a page shows or tells of a picture."""

    def __init__(self, page):
        super().__init__()
        self.texts, self._inside = [], ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self._inside = tag
        self.texts += [v for k, v in attrs if k == "alt" or (k == "title" and tag != "div")]

    def handle_data(self, data):
        if self._inside != "style":
            self.texts.append(data.strip())


AS_THEY_ARE = {
    "IMG_1.jpg", "IMG_2.jpg", "IMG_3.jpg", "35 mm", "f/2", "1/125 s", "0,054 mm", "·", ":", ".",
}  # fmt: skip


def test_a_page_says_nothing_that_was_not_translated():
    judged = diagnose(*JUDGED["behind"])
    with speaking(Marked()):
        notes = contradiction(
            CheckedPicture(file="a", distance_m=3.0, distance_sd_m=0.01),
            attempt(1).model_copy(update={"distance_m": 5.0, "standard_deviation_m": 0.01}),
        )
        assert notes
        soft = CheckedPicture(
            file="IMG_1.jpg", verdict="soft", cause=judged.cause.value, why=judged.why,
            change=judged.change, notes=notes, blur_px=9.0, blur_sd_px=0.5, blur_mm=0.054,
            limit_px=4.8, criterion="diagonal/1500", print_limit_px=13.0, p_sharp=0.01,
            print_size="10 cm wide seen from 40 cm", largest_print_cm=20, focal_length_mm=35,
            f_number=2, exposure_s=1 / 125, iso=400, framing="full body", cut=("feet",),
            taken_at=datetime(2026, 5, 1), attempt=1, live_verdict="in focus", rank=1, of=2,
            near_m=2.8, far_m=3.3, focus_m=3.0, distance_m=3.6, distance_sd_m=0.1,
            live_distance_m=3.5, live_distance_sd_m=0.1, distance_from_blur_m=3.7,
            thumbnail="a.jpg", eyes_crop="b.jpg",
        )  # fmt: skip
        strange = CheckedPicture(file="IMG_2.jpg", taken_at=datetime(2026, 5, 2))
        timeless = CheckedPicture(file="IMG_3.jpg", thumbnail="c.jpg")
        match = Match(3700.0, (1, None, None), True)
        pictures = [soft, strange, timeless]
        without = without_attempt(pictures, [attempt(1)], match, "hall")
        page = report.page_of(pictures, match, "hall", without).decode()
    texts = [t for t in Shown(page).texts if t and t not in AS_THEY_ARE]
    assert len(texts) > 60
    left = [t for t in texts if "[" not in t and any(c.isalpha() for c in t)]
    assert left == []
