"""The screen of a run, in a window and in a video: the first of its listeners."""

from __future__ import annotations

from collections.abc import Callable

from assist.base.images import ColourImage
from assist.guidance.message import Message
from assist.output.screen.screen import GuidanceScreen
from assist.output.video import VideoOutput
from assist.output.window import PreviewWindow


class Display:
    """Draws every message once, for whatever shows it.

    over_picture: draws over the picture before it is mirrored.
    video: where the screens are written, once there is one.
    key: what was pressed while the last message was shown, "" for nothing.
    """

    def __init__(
        self,
        screen: GuidanceScreen,
        window: PreviewWindow | None = None,
        over_picture: Callable[[ColourImage], None] | None = None,
    ) -> None:
        self._screen = screen
        self._window = window
        self._over_picture = over_picture
        self.video: VideoOutput | None = None
        self.key = ""

    def hear(self, message: Message) -> None:
        """Show it."""
        self.key = ""
        canvas = self._screen.draw(message, self._over_picture)
        if self.video is not None:
            self.video.write(canvas, message.time_s)
        if self._window is not None:
            if self.video is None:  # a video cannot change its size half-way
                self._screen.resize(self._window.size_px)
            self.key = self._window.show(canvas)

    def prepare(self, picture: ColourImage) -> None:
        """Make ahead, on any thread, what will be needed of a picture."""
        self._screen.prepare(picture)

    def look_ahead(self) -> None:
        """See to the window, and draw what may come next; to be called when nothing is urgent."""
        if self._window is not None:
            self._window.look()
            self._screen.look_ahead()

    @property
    def closed(self) -> bool:
        """Whether the user closed the window by its frame."""
        return self._window is not None and self._window.closed

    @property
    def trouble(self) -> str:
        """Why the video has ended before the run; "" while it goes on."""
        return "" if self.video is None else self.video.trouble

    def toggle_mirror(self) -> None:
        """Mirror the picture, or no longer."""
        self._screen.mirrored = not self._screen.mirrored

    def toggle_full_screen(self) -> None:
        """Full screen and back."""
        if self._window is not None:
            self._window.toggle_full_screen()

    def close(self) -> None:
        """Take the window away, and end the video; safe to call twice. Raises as `end_video`."""
        window, self._window = self._window, None
        if window is not None:
            window.close()
        self.end_video()

    def end_video(self) -> None:
        """Finish the video and put it in place; safe to call twice.

        Raises UserError when what was written is no video.
        """
        video, self.video = self.video, None
        if video is not None:
            video.close()
