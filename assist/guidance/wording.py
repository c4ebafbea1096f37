"""The words of each code that a person is told, in one language: big words, troubles, parts."""

from __future__ import annotations

from assist.base.trouble import Trouble
from assist.base.words import Words
from assist.feed import Silence
from assist.guidance.camera_hints import CameraHint, Hint
from assist.guidance.countdown import Turn
from assist.guidance.guide import Action, Caution, Reason, Unmeasured, Way
from assist.guidance.picture_news import Shown
from assist.guidance.teaching import Teaching
from assist.pose.gesture import OrderBy


def big_words(say: Words) -> dict[Action, str]:
    """One big word for each action, read from 8 m: at most eight letters, capitals."""
    _p = say.pgettext
    return {
        # L10N: A big word, read from 8 m: seven letters at best, so that it can be high enough.
        Action.FORWARD: _p("big word", "FORWARD"),
        Action.BACK: _p("big word", "BACK"),
        Action.STOP: _p("big word", "STOP"),
        Action.HOLD: _p("big word", "HOLD"),
        Action.REFRAME: _p("big word", "FRAMING"),
        Action.AGAIN: _p("big word", "AGAIN"),
        Action.NOT_SURE: _p("big word", "NOT SURE"),
        Action.NO_ONE: _p("big word", "NO ONE"),
        Action.NO_FEED: _p("big word", "NO FEED"),
    }


def cautions(say: Words) -> dict[Caution, str]:
    """What to warn of."""
    _ = say.gettext
    return {
        Caution.MOVING_BACK: _("look behind you"),
        Caution.ON_THE_WAY: _("look where you go"),
    }


def what_to_do(say: Words) -> dict[Action, str]:
    """Orders that have no length in them."""
    _ = say.gettext
    return {
        Action.STOP: _("stop here"),
        Action.HOLD: _("hold still"),
        Action.REFRAME: _("right distance, wrong place in the picture"),
        Action.AGAIN: _("go round behind the mark and come forward"),
        Action.NO_ONE: _("come into the picture"),
        Action.NO_FEED: _("wait"),
    }


def what_to_do_aloud(say: Words) -> dict[Action, str]:
    """The same for the ear: short, so that it is over before it is out of date."""
    _ = say.gettext
    return {
        Action.STOP: _("Stop."),
        Action.HOLD: _("Hold still. In focus."),
        Action.REFRAME: _("In focus, but not well in the picture. Look where you go."),
        Action.AGAIN: _("Too near. Go round behind the mark with care."),
        Action.NO_ONE: _("No one in view."),
    }


def moves(say: Words) -> dict[tuple[Way, bool], str]:
    """To the mark by so much {length}, for the eye; whether the person is seen to stand.

    No word asks for legs of someone who is not.
    """
    _ = say.gettext
    towards, away = _("{length} towards the camera"), _("{length} further from the camera")
    round_behind = _("go round behind the mark and come forward")
    return {
        (Way.FORWARD, True): _("step forward {length}"),
        (Way.FORWARD, False): _("move forward {length}"),
        (Way.BACK, True): _("step back {length}"),
        (Way.BACK, False): _("move back {length}"),
        **{(Way.TOWARDS, on_feet): towards for on_feet in (True, False)},
        **{(Way.AWAY, on_feet): away for on_feet in (True, False)},
        **{(Way.ROUND, on_feet): round_behind for on_feet in (True, False)},
    }


def moves_aloud(say: Words) -> dict[Way, str]:
    """To the mark by so much {length}, for the ear, with what to beware of."""
    _ = say.gettext
    return {
        Way.FORWARD: _("Forward, {length}."),
        Way.BACK: _("Look behind you. Back, {length}."),
        Way.TOWARDS: _("Look behind you. {length} towards the camera."),
        Way.AWAY: _("Look where you go. {length} away from the camera."),
        Way.ROUND: _("Too near. Go round behind the mark with care."),
    }


def doubtful_moves_aloud(say: Words) -> dict[Way, str]:
    """The same for somebody whose place is not sure."""
    _ = say.gettext
    return {
        Way.FORWARD: _("Not sure. Forward, {length}, to be safe."),
        Way.BACK: _("Not sure. Look behind you. Back, {length}, to be safe."),
        Way.TOWARDS: _("Not sure. Look behind you. {length} towards the camera, to be safe."),
        Way.AWAY: _("Not sure. Look where you go. {length} away from the camera, to be safe."),
        Way.ROUND: _("Not sure. To be safe, go round behind the mark."),
    }


def to_be_measured(say: Words) -> dict[Unmeasured, tuple[str, str, str]]:
    """What somebody is to do whose distance is not known, why, and the first for the ear."""
    _ = say.gettext
    moment, aloud = _("one moment"), _("One moment.")
    return {
        Unmeasured.MEASURING: (moment, _("you are being measured"), aloud),
        Unmeasured.LEARNING_MARK: (
            _("stand still, look at the camera"),
            _("your mark is being learned"),
            _("Stand still. Look at the camera."),
        ),
        Unmeasured.TEST_PICTURE: (
            _("stand there and hold still"),
            _("a test picture, to find the plane of focus"),
            _("Hold still there."),
        ),
        Unmeasured.BARS: (moment, _("looking for bars in the feed"), aloud),
        Unmeasured.SIGNS: (
            _("turn off the camera's display of settings"),
            _("the feed seems to have bars with signs or colours"),
            _("Not sure. Turn off the camera's signs."),
        ),
        Unmeasured.LITTLE_SEEN: (
            _("come fully into view"),
            _("face or hips must be in view to be measured"),
            _("Not sure. Look where you go. Come fully into view."),
        ),
        Unmeasured.TOO_SMALL: (
            _("come nearer"),
            _("too far off to be measured"),
            _("Not sure. Come nearer to be measured."),
        ),
    }


def teachings(say: Words) -> dict[Teaching, tuple[str, str]]:
    """What came of teaching the mark, for the eye and for the ear."""
    _ = say.gettext
    return {
        Teaching.TAUGHT: (_("mark learned"), _("Mark learned.")),
        Teaching.MOVED: (
            _("mark not learned: you moved; stand still and try again"),
            _("Not learned. Stand still and try again."),
        ),
        Teaching.TURNED: (
            _("mark not learned: face the camera and try again"),
            _("Not learned. Face the camera and try again."),
        ),
        Teaching.NO_FACE: (
            _("mark not learned: your face was not seen; more light, or nearer"),
            _("Not learned. I cannot see your face."),
        ),
        Teaching.SOMEBODY_ELSE: (
            _("mark not learned: this may be somebody else"),
            _("Not learned. This may be somebody else."),
        ),
        Teaching.VOID: (
            _("the camera has moved or been zoomed: teach the mark again"),
            _("The camera has moved. Teach the mark again."),
        ),
        Teaching.UNMEASURED: (
            _("mark not learned: you could not be measured"),
            _("Not learned. I cannot measure you."),
        ),
    }


def doubts(say: Words) -> dict[Reason, tuple[str, str, str]]:
    """What to do about a doubt in the feed or in what is stated, why, and both for the ear."""
    _ = say.gettext
    return {
        Reason.SQUEEZED: (
            _("set the feed to its own shape"),
            _("you look too slim or too wide: the picture seems squeezed"),
            _("Not sure. The picture seems squeezed."),
        ),
        Reason.STATURE: (
            _("state your true height"),
            _("the stated height does not fit your face"),
            _("Not sure. The stated height does not fit you."),
        ),
    }


def pictures(say: Words) -> dict[Shown, tuple[str, str]]:
    """What the last picture shows, for the eye and for the ear."""
    _ = say.gettext
    return {
        "sharp": (_("eyes sharp"), _("The picture is sharp.")),
        "acceptable": (_("eyes sharp enough for a small print"), _("Sharp enough.")),
        "soft": (_("eyes soft"), _("The picture is soft.")),
        "moved": (_("blurred by movement"), _("Blurred by movement.")),
        "unclear": (
            _("the picture does not tell how sharp it is"), _("The picture does not tell.")
        ),
    }  # fmt: skip


def who(say: Words) -> dict[OrderBy | None, str]:
    """Why it is not known which of several people is meant, and what they can do."""
    _ = say.gettext
    return {
        "hand": _("which one is you? raise a hand, or press N"),
        "arm": _("which one is you? hold an arm out, or press N"),
        "head": _("which one is you? tilt your head, or press N"),
        None: _("which one is you? press N"),
    }


def silences(say: Words) -> dict[Silence, tuple[str, str]]:
    """Why nothing is known of the feed, for the eye and for the ear."""
    _ = say.gettext
    return {
        Silence.STOPPED: (_("no picture comes from the feed"), _("The picture has stopped.")),
        Silence.NOT_BEGUN: (_("no picture has come from the feed yet"), _("No picture yet.")),
        Silence.FROZEN: (_("the feed repeats one picture"), _("The picture is frozen.")),
        Silence.GARBLED: (
            _("what comes from the feed is no picture"), _("The picture is damaged.")
        ),
        Silence.BEHIND: (_("the feed is behind"), _("The picture is old. Wait.")),
        Silence.LATE: (_("the pictures come too late"), _("The picture comes too late.")),
        Silence.UNSEEN: (
            _("finding people has failed"), _("I cannot see you. Finding people has failed.")
        ),
        Silence.SHAPE: (
            _("not its profile's shape: set the feed back"), _("The picture has another shape.")
        ),
    }  # fmt: skip


def behind(say: Words, seconds: float | None) -> tuple[str, str]:
    """What to do about a feed whose pictures are so old when they come, and why.

    None where nobody knows how old.
    """
    _ = say.gettext
    if seconds is None:
        return _("use a cable, or measure the delay"), _("how old the pictures are is not known")
    # To half seconds: finer figures would only flicker.
    told_s = max(0.5, round(2 * seconds) / 2)
    return (
        _("use a cable or a lower resolution"),
        _("the feed is {seconds} s behind", seconds=say.figure(told_s, 1)),
    )


def troubles(say: Words) -> dict[Trouble, tuple[str, str]]:
    """What failed while the run goes on, for the eye and for the ear."""
    _ = say.gettext
    return {
        Trouble.NO_PICTURE: (_("no picture came from the feed"), _("No picture came.")),
        Trouble.DISK_FULL: (_("the disk is full"), _("The disk is full.")),
        Trouble.READ_ONLY: (
            _("the folder cannot be written to"), _("The folder cannot be written to.")
        ),
        Trouble.FOLDER_GONE: (_("the folder has gone"), _("The folder has gone.")),
        Trouble.FOLDER_AGAIN: (
            _("the folder was deleted and is made again"),
            _("The folder was deleted. It is there again."),
        ),
        Trouble.NOT_WRITTEN: (
            _("the picture could not be written"), _("The picture could not be written.")
        ),
        Trouble.ELSEWHERE: (
            _("the picture was kept in another folder"), _("Kept in another folder.")
        ),
        Trouble.COMMAND: (_("the command failed"), _("The command failed.")),
        Trouble.HANGS: (_("taking the picture took too long"), _("It took too long.")),
        Trouble.CAMERA: (_("the camera did not take the picture"), _("The camera failed.")),
        Trouble.NOT_FETCHED: (
            _("taken, but still on the camera's card"), _("It is still on the card.")
        ),
        Trouble.TRIGGER: (_("taking the picture failed"), _("The trigger failed.")),
        Trouble.RECORD: (
            _("the record could not be written"), _("The record could not be written.")
        ),
        Trouble.VIDEO: (
            _("the video has ended: it cannot be written"), _("The video has ended.")
        ),
        Trouble.NO_SOUND: (_("no sound"), _("No sound.")),
        Trouble.NO_SPEECH: (_("no speech"), _("No speech.")),
        Trouble.NO_SHARE: (_("no second screen"), _("No second screen.")),
        Trouble.PART: (_("a part of the program failed"), _("A part of the program failed.")),
    }  # fmt: skip


def body_parts(say: Words) -> dict[str, str]:
    """Parts of the body that are cut off or out of the zone, by their names in the record."""
    _p = say.pgettext
    return {
        "head": _p("body part", "head"),
        "hand": _p("body part", "hand"),
        "elbow": _p("body part", "elbow"),
        "shoulder": _p("body part", "shoulder"),
        "waist": _p("body part", "waist"),
        "knee": _p("body part", "knee"),
        "knees": _p("body part", "knees"),
        "foot": _p("body part", "foot"),
        "feet": _p("body part", "feet"),
    }


def timer_words(say: Words) -> dict[str, str]:
    """The countdown in one word, by `CountdownState.word`."""
    _p = say.pgettext
    return {
        "taken": _p("timer", "TAKEN"),
        "now": _p("timer", "NOW"),
        "not_taken": _p("timer", "NOT TAKEN"),
        "pending": _p("timer", "TAKING"),
        "paused": _p("timer", "PAUSED"),
        "waiting": _p("timer", "WAITING"),
    }


def turns_aloud(say: Words) -> dict[Turn, str]:
    """What the countdown has come to, for the ear."""
    _ = say.gettext
    return {
        Turn.FAILED: _("The picture was not taken."),
        Turn.FIRED_UNHEARD: _("Now."),
        Turn.FIRED: _("Taken."),
        Turn.GAVE_UP: _("Stopped."),
        Turn.PAUSED: _("Paused."),
        Turn.TAKES_SOON: _("The wait ends soon. Then I take the picture, ready or not."),
        Turn.STOPS_SOON: _("The wait ends soon. Then I stop without a picture."),
        Turn.NOT_IN_FOCUS: _("Not in focus."),
    }


def camera_hint(hint: CameraHint, say: Words) -> str:
    """What to do to the camera, in one line."""
    _ = say.gettext
    by = say.figure(hint.amount)
    return {
        Hint.UNKNOWN: _("earlier scene not recognised: check place and light"),
        Hint.OTHER_WAY: _(
            "earlier picture not shown: the camera was held the other way, upright or across"
        ),
        Hint.OTHER_SHAPE: _(
            "earlier scene cannot be compared: the feed's shape is another than its profile's"
        ),
        Hint.SAME: _("camera as before"),
        Hint.MOVED: _("the camera has moved: put the tripod back on its marks"),
        Hint.TURN_LEFT: _("turn the camera {degrees}° to its left", degrees=by),
        Hint.TURN_RIGHT: _("turn the camera {degrees}° to its right", degrees=by),
        Hint.TILT_UP: _("tilt the camera {degrees}° up", degrees=by),
        Hint.TILT_DOWN: _("tilt the camera {degrees}° down", degrees=by),
        Hint.ROLL_CLOCKWISE: _("tip the camera {degrees}° clockwise", degrees=by),
        Hint.ROLL_ANTICLOCKWISE: _("tip the camera {degrees}° anticlockwise", degrees=by),
        Hint.ZOOM_IN: _("zoom in by {percent} %", percent=by),
        Hint.ZOOM_OUT: _("zoom out by {percent} %", percent=by),
    }[hint.hint]
