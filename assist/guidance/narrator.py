"""Finds the words, once a frame: guidance, countdown, troubles and hints become one message."""

from __future__ import annotations

from collections.abc import Sequence

from assist.base.words import Words
from assist.distance import TrackedDistance
from assist.guidance import wording
from assist.guidance.advice import Advice, CutOff, Exchanged, OutOfZone, Sideways
from assist.guidance.assistant import Moment
from assist.guidance.camera_hints import CameraHint
from assist.guidance.countdown import CountdownState, Turn
from assist.guidance.guide import Action, Guidance, Reason, Way, Why
from assist.guidance.message import Message
from assist.guidance.troubles_shown import NO_TROUBLES, TroublesNow
from optics.focus_zone import FocusZone

TOLD_TO_M = 0.05
"""Distances are shown to this: finer figures would only flicker within what is not known."""


def told_m(distance_m: float) -> float:
    """A distance as it is shown, metres."""
    return round(distance_m / TOLD_TO_M) * TOLD_TO_M


class Narrator:
    """Tells one person, in their language and units, what is known of one zone.

    Distances are told from the sensor plane, as a tape measures them.
    """

    def __init__(self, zone: FocusZone, say: Words | None = None) -> None:
        self._zone = zone
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
        self._troubles = wording.troubles(say)
        self._parts = wording.body_parts(say)
        self._timer_words = wording.timer_words(say)
        self._turns_aloud = wording.turns_aloud(say)

    def tell(
        self,
        moment: Moment,
        countdown: CountdownState | None = None,
        troubles: TroublesNow = NO_TROUBLES,
        hints: Sequence[CameraHint] = (),
        *,
        time_s: float | None = None,
        gesture_progress: float = 0.0,
    ) -> Message:
        """The message of one frame; `time_s` is that of the moment's picture if left out.

        hints: what to do to the camera so that the picture becomes as an earlier one.
        """
        guidance = moment.guidance
        said_first = guidance.action is Action.REFRAME  # the first advice is then what to do
        advice = guidance.advice[1:] if said_first else guidance.advice
        camera = tuple(wording.camera_hint(hint, self._say) for hint in hints)
        advice_spoken = self._advice_aloud(advice[0]) if advice else ""
        if camera and not advice_spoken:
            advice_spoken = f"{camera[0]}."
        turn = self._turn(guidance, countdown)
        return Message(
            moment,
            moment.frame.time_s if time_s is None else time_s,
            countdown,
            gesture_progress,
            self._big_words[guidance.action],
            self._length(guidance, moment.assessment.distance),
            self.sentence(guidance),
            self._why(guidance),
            "" if guidance.caution is None else self._cautions[guidance.caution],
            (
                *(self._advice(one) for one in advice),
                *(self._troubles[trouble][0] for trouble in troubles.lasting),
                *camera,
            ),
            tuple(self._troubles[trouble][0] for trouble in troubles.fresh),
            self._count(countdown),
            self._warning(countdown),
            self._spoken(guidance),
            advice_spoken,
            " ".join(self._troubles[trouble][1] for trouble in troubles.fresh),
            turn,
            "" if turn is None else self._turns_aloud[turn],
        )

    # -- for the eye --------------------------------------------------------------------------

    def sentence(self, guidance: Guidance) -> str:
        """What to do."""
        if guidance.unmeasured is not None:
            return self._to_be_measured[guidance.unmeasured][0]
        if guidance.action is Action.NOT_SURE and guidance.why.reason in self._doubts:
            return self._doubts[guidance.why.reason][0]
        if guidance.action is Action.REFRAME and guidance.advice:
            return self._advice(guidance.advice[0])
        if guidance.action in self._what_to_do:
            return self._what_to_do[guidance.action]
        if guidance.way is None or guidance.to_mark_m is None:
            return self._say.gettext("not sure: you are about on the mark")
        return self._move(guidance, guidance.way, guidance.to_mark_m)

    def _move(self, guidance: Guidance, way: Way, to_mark_m: float) -> str:
        """To the mark."""
        _ = self._say.gettext
        length = self._say.length_to_go(to_mark_m)
        move = self._moves[way, guidance.on_feet].format(length=length)
        if guidance.action is Action.NOT_SURE:
            return _("not sure: {move} to be safe", move=move)
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
            return self._say.length_to_go(to_go_m)
        if distance is None:
            return ""
        return self._say.gettext("at {distance}", distance=self._from_sensor(distance.eyes_m))

    def _from_sensor(self, lens_distance_m: float) -> str:
        """A measured distance as it is told."""
        return self._say.length(told_m(self._zone.from_sensor_m(lens_distance_m)), 2)

    def _why(self, guidance: Guidance) -> str:
        """The reason."""
        why = guidance.why
        if why.reason is Reason.UNMEASURED and guidance.unmeasured is not None:
            return self._to_be_measured[guidance.unmeasured][1]
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
        if why.reason is Reason.NEARLY_THERE:
            return _("you are about to be in focus")
        if why.reason is Reason.IN_FOCUS:
            return _("eyes at {distance}, in focus", distance=at)
        if why.limit_m is not None:
            limit = self._say.length(self._zone.from_sensor_m(why.limit_m), 2)
            if why.reason is Reason.TOO_NEAR:
                return _("eyes at {distance}, sharp from {limit} on", distance=at, limit=limit)
            return _("eyes at {distance}, sharp to {limit}", distance=at, limit=limit)
        spread = self._say.length(max(TOLD_TO_M, told_m(why.spread_m or 0.0)), 2)
        return _("eyes at {distance}, give or take {spread}", distance=at, spread=spread)

    def _doubt(self, why: Why) -> str:
        """A reason without distances."""
        _ = self._say.gettext
        if why.reason is Reason.WHO:
            return _("not sure which person is you")
        if why.reason is Reason.SMALL_BODY:
            return _("your size is unclear: state your stature")
        if why.reason is Reason.MAYBE_SMALL:
            return _("state your stature, or show face and knees")
        if why.reason is Reason.ZOOMED:
            return _("the zoom is not that of then: distances are off")
        if why.reason is Reason.ON_ITS_SIDE:
            return _("if the picture lies on its side: --rotate {degrees}", degrees=why.rotate_deg)
        return _("no one in view")

    def _advice(self, advice: Advice) -> str:
        """Further advice."""
        _ = self._say.gettext
        if isinstance(advice, Sideways):
            length = self._say.length(abs(advice.across_m))
            left, right = _("move {length} to your left"), _("move {length} to your right")
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
            return _("Not sure. You are about on the mark.")
        doubtful = guidance.action is Action.NOT_SURE
        moves = self._doubtful_moves_aloud if doubtful else self._moves_aloud
        length = self._say.spoken_length(guidance.to_mark_m)
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
