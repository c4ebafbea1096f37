"""Finds the words, once a frame: guidance, countdown, troubles and hints become one message."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assist.base.words import Words
from assist.distance import TrackedDistance
from assist.feed import Silence
from assist.guidance import wording
from assist.guidance.advice import Advice, CutOff, Exchanged, OutOfZone, Sideways
from assist.guidance.assistant import Moment
from assist.guidance.camera_hints import CameraHint
from assist.guidance.countdown import CountdownState, Turn
from assist.guidance.guide import Action, Guidance, Reason, Way, Why
from assist.guidance.message import Message
from assist.guidance.picture_news import PictureNews, TestPicture
from assist.guidance.troubles_shown import NO_TROUBLES, TroublesNow
from assist.pose.gesture import OrderBy
from optics.focus_zone import FocusZone

TOLD_TO_M = 0.05
"""Distances are shown to this: finer figures would only flicker within what is not known."""
NARROW_M, NARROW_TOLD_TO_M = 0.15, 0.01
"""In a zone with less room than this before or behind its plane of focus, they are shown to that,
and short ways are told in centimetres or inches."""
_SHORT_M = 0.3
FIGURES_S = 0.35
"""How long a figure stays while nothing else changes: nobody reads quicker, and its digits would
flash (WCAG 2.2, 2.3.1)."""


def is_narrow(zone: FocusZone) -> bool:
    """Whether ways to the mark are told in centimetres or inches."""
    return min(zone.in_front_m, zone.behind_m) < NARROW_M


class Narrator:
    """Tells one person, in their language and units, what is known of one zone.

    Distances are told from the sensor plane, as a tape measures them.

    orders_by: the gesture by which they say who they are; None where keys alone do.
    """

    def __init__(
        self, zone: FocusZone, say: Words | None = None, orders_by: OrderBy | None = None
    ) -> None:
        self._zone = zone
        self._narrow = is_narrow(zone)
        self._told_to_m = NARROW_TOLD_TO_M if self._narrow else TOLD_TO_M
        self._say = say = say or Words()
        self._big_words = wording.big_words(say)
        self._cautions = wording.cautions(say)
        self._what_to_do = wording.what_to_do(say)
        self._what_to_do_aloud = wording.what_to_do_aloud(say)
        self._moves = wording.moves(say)
        self._moves_aloud = wording.moves_aloud(say)
        self._doubtful_moves_aloud = wording.doubtful_moves_aloud(say)
        self._to_be_measured = wording.to_be_measured(say)
        self._doubts = wording.doubts(say)
        self._silences = wording.silences(say)
        self._teachings = wording.teachings(say)
        self._pictures = wording.pictures(say)
        self._troubles = wording.troubles(say)
        self._parts = wording.body_parts(say)
        self._timer_words = wording.timer_words(say)
        self._turns_aloud = wording.turns_aloud(say)
        self._who = wording.who(say)[orders_by]
        self._figures: tuple[Guidance, TrackedDistance | None] | None = None
        self._figures_s = 0.0

    def tell(
        self,
        moment: Moment,
        countdown: CountdownState | None = None,
        troubles: TroublesNow = NO_TROUBLES,
        hints: Sequence[CameraHint] = (),
        *,
        time_s: float | None = None,
        gesture_progress: float = 0.0,
        picture: PictureNews | TestPicture | None = None,
    ) -> Message:
        """The message of one frame; `time_s` is that of the moment's picture if left out.

        picture: what checking the last picture has shown, while that is news, or the test picture
        that is asked for.
        hints: what to do to the camera so that the picture becomes as an earlier one.
        """
        now_s = moment.frame.time_s if time_s is None else time_s
        guidance, distance = self._paced(moment, now_s)
        said_first = guidance.action is Action.REFRAME  # the first advice is then what to do
        advice = guidance.advice[1:] if said_first else guidance.advice
        camera = tuple(wording.camera_hint(hint, self._say) for hint in hints)
        advice_spoken = self._advice_aloud(advice[0]) if advice else ""
        if guidance.why.reason is Reason.STATURE_UNSEEN and not advice_spoken:
            advice_spoken = self._say.gettext("Show your face once.")
        if camera and not advice_spoken:
            advice_spoken = f"{camera[0]}."
        turn = self._turn(guidance, countdown)
        news, news_spoken = self._news(moment, picture)
        return Message(
            moment,
            now_s,
            countdown,
            gesture_progress,
            self._big_words[guidance.action],
            self._length(guidance, distance),
            self.sentence_of(replace(moment, guidance=guidance)),
            self._why(guidance),
            "" if guidance.caution is None else self._cautions[guidance.caution],
            (
                *(self._advice(one) for one in advice),
                *self._company(guidance),
                *(self._troubles[trouble][0] for trouble in troubles.lasting),
                *camera,
            ),
            tuple(self._troubles[trouble][0] for trouble in troubles.fresh),
            news,
            self._count(countdown),
            self._warning(countdown),
            self._spoken(guidance),
            advice_spoken,
            " ".join(self._troubles[trouble][1] for trouble in troubles.fresh),
            news_spoken,
            turn,
            "" if turn is None else self._turns_aloud[turn],
            said_by_word=_said_by_word(guidance),
            news_moves=isinstance(picture, TestPicture),
        )

    def _paced(self, moment: Moment, now_s: float) -> tuple[Guidance, TrackedDistance | None]:
        """What is told now: that of just before, as long as nothing but its figures has changed."""
        new = moment.guidance, moment.assessment.distance
        held = self._figures
        if held is not None and 0 < now_s - self._figures_s < FIGURES_S:
            same = _without_figures(held[0]) == _without_figures(new[0])
            if same and (held[1] is None) == (new[1] is None):
                return held
        self._figures, self._figures_s = new, now_s
        return new

    def _news(self, moment: Moment, picture: PictureNews | TestPicture | None) -> tuple[str, str]:
        """What has come of something, for the eye and for the ear; "" where nothing has."""
        if moment.teaching is not None and moment.teaching in self._teachings:
            return self._teachings[moment.teaching]
        if isinstance(picture, TestPicture):
            return self._asked(picture)
        return ("", "") if picture is None else self._picture(picture)

    def _asked(self, picture: TestPicture) -> tuple[str, str]:
        """Where to stand for a test picture."""
        _ = self._say.gettext
        length, aloud = self._to_go(picture.move_m), self._to_go_aloud(abs(picture.move_m))
        n, of = picture.number, picture.of
        if picture.from_mark and picture.move_m < 0:
            return (
                _("picture {n} of {of}: stand {length} in front of the mark", n=n, of=of,
                  length=length),
                _("Picture {n}. {length} in front of the mark.", n=n, length=aloud),
            )  # fmt: skip
        if picture.move_m < 0:
            return (
                _("picture {n} of {of}: {length} nearer than just now", n=n, of=of, length=length),
                _("Picture {n}. {length} nearer.", n=n, length=aloud),
            )
        return (
            _("picture {n} of {of}: {length} farther than just now; look behind you", n=n, of=of,
              length=length),
            _("Picture {n}. Look behind you. {length} farther back.", n=n, length=aloud),
        )  # fmt: skip

    def _picture(self, picture: PictureNews) -> tuple[str, str]:
        """What the last picture is like, and by how much its eyes were off."""
        _ = self._say.gettext
        shown, aloud = self._pictures[picture.shown]
        shown = _("picture {n}: {shown}", n=picture.attempt, shown=shown)
        if picture.off_m is None:
            return shown, aloud
        length = self._to_go(picture.off_m)
        spoken = self._to_go_aloud(abs(picture.off_m))
        if picture.off_m > 0:
            return (
                _("{shown}, {length} too far", shown=shown, length=length),
                _("{shown} {length} too far.", shown=aloud, length=spoken),
            )
        return (
            _("{shown}, {length} too near", shown=shown, length=length),
            _("{shown} {length} too near.", shown=aloud, length=spoken),
        )

    # -- for the eye --------------------------------------------------------------------------

    def sentence_of(self, moment: Moment) -> str:
        """What to do at that moment."""
        return self.sentence(moment.guidance)

    def sentence(self, guidance: Guidance) -> str:
        """What to do."""
        if known_of := self._state(guidance):
            return known_of
        if guidance.action is Action.REFRAME and guidance.advice:
            return self._advice(guidance.advice[0])
        if guidance.action in self._what_to_do:
            return self._what_to_do[guidance.action]
        if guidance.way is None or guidance.to_mark_m is None:
            return self._say.gettext("you are close to the mark")
        return self._move(guidance, guidance.way, guidance.to_mark_m)

    def _state(self, guidance: Guidance) -> str:
        """What to do where nothing is known; "" where something is."""
        if guidance.unmeasured is not None:
            return self._to_be_measured[guidance.unmeasured][0]
        if guidance.action is Action.NOT_SURE and guidance.why.reason in self._doubts:
            return self._doubts[guidance.why.reason][0]
        if guidance.silence is Silence.BEHIND:
            return wording.behind(self._say, guidance.why.behind_s)[0]
        return ""

    def _move(self, guidance: Guidance, way: Way, to_mark_m: float) -> str:
        """To the mark."""
        _ = self._say.gettext
        length = self._to_go(to_mark_m)
        move = self._moves[way, guidance.on_feet].format(length=length)
        if guidance.action is Action.NOT_SURE:
            return _("{move} to be safe", move=move)
        if not guidance.steps:
            return move
        steps = self._say.ngettext("one step", "{n} steps", guidance.steps)
        return _("{move}, {steps}", move=move, steps=steps)

    def _length(self, guidance: Guidance, distance: TrackedDistance | None) -> str:
        """The one length to show: how far to go, else how far away the eyes are; "" for neither."""
        if guidance.why.reason in self._doubts:
            return ""  # what was measured is not to be believed
        to_go_m = guidance.across_m if guidance.to_go_m is None else guidance.to_go_m
        if to_go_m is not None:
            return self._to_go(to_go_m)
        if distance is None:
            return ""
        return self._say.gettext("at {distance}", distance=self._from_sensor(distance.eyes_m))

    def _to_go(self, metres: float) -> str:
        """The length of a way to go."""
        if self._narrow and abs(metres) < _SHORT_M:
            return self._say.short_length(metres)
        return self._say.length_to_go(metres)

    def _to_go_aloud(self, metres: float) -> str:
        """The same for the ear."""
        if self._narrow and abs(metres) < _SHORT_M:
            return self._say.short_length_aloud(abs(metres))
        return self._say.spoken_length(metres)

    def _told_m(self, distance_m: float) -> float:
        """A distance as it is shown, metres."""
        return round(distance_m / self._told_to_m) * self._told_to_m

    def _from_sensor(self, lens_distance_m: float) -> str:
        """A measured distance as it is told."""
        return self._say.length(self._told_m(self._zone.from_sensor_m(lens_distance_m)), 2)

    def _why(self, guidance: Guidance) -> str:
        """The reason."""
        why = guidance.why
        if why.reason is Reason.UNMEASURED and guidance.unmeasured is not None:
            return self._to_be_measured[guidance.unmeasured][1]
        if guidance.silence is Silence.BEHIND:
            return wording.behind(self._say, why.behind_s)[1]
        if why.reason is Reason.NO_FEED and guidance.silence is not None:
            return self._silences[guidance.silence][0]
        if why.reason in self._doubts:
            return self._doubts[why.reason][1]
        return self._measured_why(why) or self._doubt(why)

    def _measured_why(self, why: Why) -> str:
        """A reason with distances in it, "" for another."""
        if why.eyes_m is None:
            return ""
        _, at = self._say.gettext, self._from_sensor(why.eyes_m)
        plain = {
            Reason.NEARLY_THERE: _("entering the sharp zone"),
            Reason.ARRIVED: _("in the sharp zone"),
            Reason.IN_FOCUS: _("eyes at {distance}, in focus", distance=at),
        }
        if why.reason in plain:
            return plain[why.reason]
        if why.limit_m is not None:
            limit = self._say.length(self._zone.from_sensor_m(why.limit_m), 2)
            if why.reason is Reason.TOO_NEAR:
                return _("eyes at {distance}, sharp from {limit} on", distance=at, limit=limit)
            return _("eyes at {distance}, sharp to {limit}", distance=at, limit=limit)
        spread = self._say.length(max(self._told_to_m, self._told_m(why.spread_m or 0.0)), 2)
        return _("eyes at {distance}, give or take {spread}", distance=at, spread=spread)

    def _doubt(self, why: Why) -> str:
        """A reason without distances."""
        _ = self._say.gettext
        said = {
            Reason.WHO: self._who,
            Reason.SMALL_BODY: _("your size is unclear: state your height"),
            Reason.STATURE_UNSEEN: _("show your face once: an unusual height is stated"),
            Reason.MAYBE_SMALL: _("state your height, or show face and knees"),
            Reason.ZOOMED: _("zoom differs from last time: distances are wrong"),
            Reason.NETWORK: _("distances are unknown with this pose model: leave --pose-model out"),
        }
        if why.reason in said:
            return said[why.reason]
        if why.reason is Reason.ON_ITS_SIDE:
            return _("if the picture lies on its side: --rotate {degrees}", degrees=why.rotate_deg)
        return _("no one in view")

    def _advice(self, advice: Advice) -> str:
        """Further advice."""
        _ = self._say.gettext
        if isinstance(advice, Sideways):
            length = self._say.length(abs(advice.across_m))
            left, right = _("{length} to your left"), _("{length} to your right")
            return (left if advice.to_own_left else right).format(length=length)
        if isinstance(advice, CutOff):
            return self._cut_off(advice)
        if isinstance(advice, OutOfZone):
            part, length = self._parts[advice.part], self._say.length(advice.beyond_m)
            if advice.too_near:
                return _("{part} {length} too near", part=part, length=length)
            return _("{part} {length} too far", part=part, length=length)
        if isinstance(advice, Exchanged):
            option = "--feed-not-mirrored" if advice.put_right else "--feed-mirrored"
            return _("left and right seem exchanged: start with {option}", option=option)
        return _("turn to the camera")

    def _company(self, guidance: Guidance) -> tuple[str, ...]:
        """That others are in view, where they are."""
        return (self._say.gettext("someone else is in view"),) if guidance.others else ()

    def _cut_off(self, advice: CutOff) -> str:
        parts = ", ".join(self._parts[part] for part in advice.parts)
        return self._say.gettext("out of the picture: {parts}", parts=parts)

    def _count(self, countdown: CountdownState | None) -> str:
        """The countdown in one word or figure."""
        if countdown is None:
            return ""
        word = countdown.word
        return str(countdown.shown) if word is None else self._timer_words[word]

    def _warning(self, countdown: CountdownState | None) -> str:
        """What the countdown is to be warned of, besides its word."""
        if countdown is not None and countdown.camera_runs_on:
            return self._say.gettext("the camera's own timer runs on")
        if countdown is not None and countdown.warning:
            return self._say.gettext("NOT IN FOCUS YET")
        return ""

    # -- for the ear --------------------------------------------------------------------------

    def _spoken(self, guidance: Guidance) -> str:
        """What to do, said aloud."""
        _ = self._say.gettext
        if known_of := self._state_aloud(guidance):
            return known_of
        if guidance.action is Action.REFRAME and guidance.advice:
            advice = self._advice_aloud(guidance.advice[0])
            return _("In focus, but look where you go: {advice}", advice=advice)
        if guidance.action in self._what_to_do_aloud:
            return self._what_to_do_aloud[guidance.action]
        if guidance.way is None or guidance.to_mark_m is None:
            return _("Not sure. You are close to the mark.")
        doubtful = guidance.action is Action.NOT_SURE
        moves = self._doubtful_moves_aloud if doubtful else self._moves_aloud
        length = self._to_go_aloud(guidance.to_mark_m)
        return moves[guidance.way].format(length=length)

    def _state_aloud(self, guidance: Guidance) -> str:
        """Why nothing is known, and what to do about it; "" where something is."""
        if guidance.unmeasured is not None:
            return self._to_be_measured[guidance.unmeasured][2]
        if guidance.silence is not None:
            return self._silences[guidance.silence][1]
        if guidance.action is Action.NOT_SURE and guidance.why.reason in self._doubts:
            return self._doubts[guidance.why.reason][2]
        return ""

    def _advice_aloud(self, advice: Advice) -> str:
        """Further advice, said aloud."""
        _ = self._say.gettext
        if isinstance(advice, Sideways):
            length = self._say.spoken_length(advice.across_m)
            left, right = _("{length} to your left."), _("{length} to your right.")
            return (left if advice.to_own_left else right).format(length=length)
        if isinstance(advice, CutOff):
            return self._cut_off(advice)
        if isinstance(advice, OutOfZone):
            part, length = self._parts[advice.part], self._say.spoken_length(advice.beyond_m)
            if advice.too_near:
                return _("{part} too near, {length}.", part=part, length=length)
            return _("{part} too far, {length}.", part=part, length=length)
        if isinstance(advice, Exchanged):
            return _("Left and right seem exchanged.")
        return _("Turn to the camera.")

    def _turn(self, guidance: Guidance, countdown: CountdownState | None) -> Turn | None:
        """What the countdown has come to, where that is to be said."""
        if countdown is None:
            return None
        # Why nothing is known says more than that it is not in focus.
        silent = guidance.action is Action.NO_FEED
        turns = (t for t in countdown.turns if not (silent and t is Turn.NOT_IN_FOCUS))
        return next(turns, None)


def _said_by_word(guidance: Guidance) -> bool:
    """Whether the big word, with the length, says all that the sentence says."""
    if guidance.action in (Action.HOLD, Action.STOP):
        return True
    return guidance.action in (Action.FORWARD, Action.BACK) and guidance.way in (
        Way.FORWARD,
        Way.BACK,
    )


def _without_figures(guidance: Guidance) -> tuple[object, ...]:
    """All of it but how much."""
    kinds = tuple(
        (type(one), one.to_own_left) if isinstance(one, Sideways) else type(one)
        if isinstance(one, OutOfZone) else one
        for one in guidance.advice
    )  # fmt: skip
    return (
        guidance.action, guidance.why.reason, guidance.why.behind_s, guidance.caution, guidance.way,
        guidance.on_feet, guidance.unmeasured, guidance.silence, guidance.others, guidance.lean,
        guidance.to_go_m is None, kinds,
    )  # fmt: skip
