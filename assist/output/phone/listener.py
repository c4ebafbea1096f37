"""The second screen as a listener of the run."""

from __future__ import annotations

from assist.base.phrases import Phrases
from assist.guidance.assistant import Moment
from assist.guidance.countdown import CountdownState
from assist.output.phone.message import message
from assist.output.phone.server import ShareServer
from assist.output.screen.plan_view import PlanView
from assist.output.sound.cues import CueMaker


class SecondScreen:
    """Posts every moment to the server. The picture goes along only if `video` says so."""

    def __init__(
        self,
        server: ShareServer,
        view: PlanView,
        say: Phrases,
        video: bool = False,
    ) -> None:
        self._server = server
        self._cues = CueMaker(view.zone)
        self._view = view
        self._say = say
        self._video = video

    def hear(self, moment: Moment, countdown: CountdownState | None) -> None:
        """Send it out."""
        values = message(moment, countdown, self._say, self._cues, self._view)
        self._server.post(values, moment.frame.picture if self._video else None)

    def close(self) -> None:
        """Say goodbye to the screens; safe to call twice."""
        self._server.close()
