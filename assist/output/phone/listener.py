"""The second screen as a listener of the run."""

from __future__ import annotations

from assist.guidance.message import Message
from assist.output.listeners import Order
from assist.output.phone.page_message import page_message
from assist.output.phone.server import ShareServer
from assist.output.screen.plan_view import PlanView
from assist.output.sound.cues import CueMaker


class SecondScreen:
    """Posts every message to the server. The picture goes along only if `video` says so."""

    def __init__(self, server: ShareServer, view: PlanView, video: bool = False) -> None:
        self._server = server
        self._cues = CueMaker(view.zone)
        self._view = view
        self._video = video

    def hear(self, message: Message) -> None:
        """Send it out."""
        values = page_message(message, self._cues, self._view)
        self._server.post(values, message.moment.frame.picture if self._video else None)

    def orders(self) -> list[Order]:
        """What has been ordered on it since the last call."""
        return self._server.take_orders()

    def close(self) -> None:
        """Say goodbye to the screens; safe to call twice."""
        self._server.close()
