"""Finds the words for several people: the narrator's own, with whose they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assist.base.words import Words
from assist.guidance.assistant import Moment
from assist.guidance.camera_hints import CameraHint
from assist.guidance.countdown import CountdownState
from assist.guidance.group import Group, Member
from assist.guidance.guide import Action, Reason
from assist.guidance.message import Message
from assist.guidance.narrator import Narrator
from assist.guidance.picture_news import PictureNews, TestPicture
from assist.guidance.troubles_shown import NO_TROUBLES, TroublesNow

_NOTHING_TO_DO = (Action.HOLD, Action.NO_ONE, Action.NO_FEED)


class GroupNarrator(Narrator):
    """Tells several people what is known of one zone: one word for all, and whom it is for."""

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
        """The message of one frame; see `Narrator`."""
        message = super().tell(
            moment,
            countdown,
            troubles,
            hints,
            time_s=time_s,
            gesture_progress=gesture_progress,
            picture=picture,
        )
        group = moment.group
        if group is None or message.action in (Action.NO_ONE, Action.NO_FEED):
            return message
        guidance = moment.guidance
        own = len(guidance.advice) - (guidance.action is Action.REFRAME)
        others = self._others(group) if group.sure or group.seen == 1 else ()
        further = self._further(group) if group.all_seen and group.sure else ()
        also = (*others, *further, *message.also[max(own, 0) :])
        if group.told is None:
            why, spoken = self._why_all(group, moment), self._all_spoken(group, guidance.why.reason)
            return replace(
                message,
                length=self._seen_of(group),
                why=why,
                also=also,
                spoken=spoken,
                advice_spoken="",
                said_by_word=False,
            )
        who = group_place(group.told, len(group.members), self._say)
        why = message.why
        if guidance.why.reason is Reason.WHO:
            why = self._say.gettext("not sure who is who")
        return replace(
            message,
            length=self._say.gettext("{who} {length}", who=who, length=message.length).strip(),
            why=why,
            also=also,
            spoken=self._spoken_to(who, message.spoken),
            advice_spoken=self._spoken_to(who, message.advice_spoken),
            who=who,
            said_by_word=False,
        )

    def sentence_of(self, moment: Moment) -> str:
        """What to do, and whose it is."""
        group, guidance = moment.group, moment.guidance
        if group is None or guidance.action in (Action.NO_ONE, Action.NO_FEED):
            return self.sentence(guidance)
        if group.told is not None:
            return self._to(group, group.told, self.sentence(guidance))
        if guidance.action is Action.HOLD:
            return self._say.gettext("all of you hold still")
        if guidance.why.reason is Reason.WHO:
            return self._say.gettext("stand apart for a moment")
        return self._say.gettext("come into the picture, all of you")

    def _to(self, group: Group, place: int, sentence: str) -> str:
        if group.seen == 1:  # it cannot be meant for anybody else
            return sentence
        who = group_place(place, len(group.members), self._say)
        return self._say.gettext("{who}: {sentence}", who=who, sentence=sentence)

    def _others(self, group: Group) -> tuple[str, ...]:
        """What those have to do who are not told now, the one with most to do first."""
        others = [
            member
            for member in group.members
            if member.place != group.told and member.guidance.action not in _NOTHING_TO_DO
        ]
        others.sort(key=lambda member: member.urgency, reverse=True)
        return tuple(self._to(group, m.place, self.sentence(m.guidance)) for m in others)

    def _further(self, group: Group) -> tuple[str, ...]:
        """Further advice to each, beginning with the one who is told what to do."""
        members = sorted(group.members, key=lambda member: member.place != group.told)
        return tuple(
            self._to(group, member.place, self._advice(one))
            for member in members
            for one in member.guidance.advice[member.guidance.action is Action.REFRAME :]
        )

    def _seen_of(self, group: Group) -> str:
        """How many of them are in view, where not all are."""
        if group.all_seen:
            return ""
        return self._say.gettext("{seen} of {people}", seen=group.seen, people=len(group.members))

    def _why_all(self, group: Group, moment: Moment) -> str:
        _ = self._say.gettext
        if moment.guidance.why.reason is Reason.WHO:
            return _("not sure who is who")
        if moment.guidance.why.reason is Reason.MISSING:
            return _("only {seen} of {people} seen", seen=group.seen, people=len(group.members))
        places = [self._from_sensor_of(member) for member in group.members]
        return _("in focus: eyes at {distances}", distances=" / ".join(places))

    def _from_sensor_of(self, member: Member) -> str:
        distance = member.assessment.distance
        return "?" if distance is None else self._from_sensor(distance.eyes_m)

    def _all_spoken(self, group: Group, reason: Reason) -> str:
        _ = self._say.gettext
        if reason is Reason.WHO:
            return _("Not sure who is who. Stand apart for a moment.")
        if reason is not Reason.MISSING:
            return _("Hold still, all of you. In focus.")
        return _("Not sure. Only {seen} of {people} in view.",
                 seen=group.seen, people=len(group.members))  # fmt: skip

    def _spoken_to(self, who: str, spoken: str) -> str:
        if not spoken:
            return ""
        return self._say.gettext("{Who}: {spoken}", Who=who[:1].upper() + who[1:], spoken=spoken)


def group_place(place: int, people: int, say: Words) -> str:
    """Where one of them stands, from 1 at the left of the mirrored screen, in a word or two."""
    _p = say.pgettext
    words = {
        2: (_p("place of a person", "left"), _p("place of a person", "right")),
        3: (
            _p("place of a person", "left"),
            _p("place of a person", "middle"),
            _p("place of a person", "right"),
        ),
    }
    if people in words:
        return words[people][place - 1]
    return _p("place of a person", "number {n}", n=place)
