"""The picture is taken by a camera on a cable, through libgphoto2's own Python binding.

The binding is an extra. Its functions raise one class of error, `GPhoto2Error`, with a number;
`gphoto2` is imported only here.
"""

from __future__ import annotations

import contextlib
import re
from pathlib import Path
from typing import Any

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.trouble import Trouble
from assist.base.words import _
from assist.camera.storing import store
from assist.camera.trigger import Fired, Trigger

NAME = "tether"
_EVENT_WAIT_MS = 200


def load_binding() -> Any:
    """The binding's module; UserError saying how to have it where it is missing."""
    try:
        import gphoto2  # noqa: PLC0415
    except ImportError as error:
        raise UserError(
            _(
                "--trigger tether needs the binding of libgphoto2: with this program's own pip, "
                'pip install "self-portrait-assist[tether]"'
            )
        ) from error
    return gphoto2


class TetherTrigger(Trigger):
    """Fires the camera, waits for the file and fetches it into the folder; the card keeps its own.

    The camera is opened at the start, so that what is wrong with the cable is told before the
    person walks off. A camera that was lost is opened anew at the next picture.

    A camera may hang in any call. Broken off, only the wait for the file ends by itself.
    """

    name = NAME
    last_word_s = 0.5

    def __init__(self, folder: Path, limit_s: float = 30.0, binding: Any = None) -> None:
        self._folder = folder
        self.limit_s = limit_s
        self._broken_off: tuple[int, str] = (-1, "")
        self._taken: tuple[int, str] = (-1, "")
        """The last attempt of which the camera has told a file, and its path on the card."""
        self._gp = binding or load_binding()
        self._camera: Any = None
        try:
            self._open()
        except self._gp.GPhoto2Error as error:
            raise UserError(
                _(
                    "no camera answers on the cable: {error}; connect it, switch it on, and "
                    "close other programs that hold it",
                    error=_words(error),
                )
            ) from error

    def _open(self) -> Any:
        if self._camera is None:
            camera = self._gp.Camera()
            camera.init()
            self._camera = camera
            # Cameras keep tethered pictures in memory only, unless told to use the card.
            with contextlib.suppress(self._gp.GPhoto2Error):
                self._keep_on_card(camera)
        return self._camera

    def _keep_on_card(self, camera: Any) -> None:
        config = camera.get_config()
        target = config.get_child_by_name("capturetarget")
        choices = [target.get_choice(i) for i in range(target.count_choices())]
        card = next((c for c in choices if "card" in c.lower()), None)
        if card is not None:
            target.set_value(card)
            camera.set_config(config)

    def fire(self, picture: ColourImage, attempt: int) -> Fired:
        """Capture, wait for the file, download."""
        gp = self._gp
        try:
            camera = self._open()
            where = self._capture(camera, attempt)
            if where is None:
                problem = _("the camera gave no file; given up {why}", why=self._broken_off[1])
                return Fired(NAME, None, problem, trouble=Trouble.CAMERA)
        except gp.GPhoto2Error as error:
            self.close()
            problem = _("the camera did not take the picture: {error}", error=_words(error))
            return Fired(NAME, None, problem, trouble=Trouble.CAMERA)
        card_folder, name = where
        on_card = f"{card_folder.rstrip('/')}/{name}"
        self._taken = attempt, on_card
        ending = re.sub(r"[^a-z0-9.]", "", Path(name).suffix.lower())[:9]
        try:
            content = self._fetch(camera, card_folder, name)
        except gp.GPhoto2Error as error:
            self.close()
            return _not_fetched(_words(error), on_card)
        stored = store(self._folder, f"picture-{attempt:04d}{ending}", content)
        if stored.path is None:
            problem = _("taken, but not stored: {why}", why=stored.problem)
            return Fired(NAME, None, problem, on_card=on_card, trouble=Trouble.NOT_FETCHED)
        return Fired(NAME, stored.path, stored.problem, on_card=on_card, trouble=stored.trouble)

    def _capture(self, camera: Any, attempt: int) -> tuple[str, str] | None:
        """Folder and name on the card of the picture just taken; None when broken off before.

        `trigger_capture` returns at once and lets several pictures of a burst overlap with their
        files; cameras without it have `capture`, which waits.
        """
        gp = self._gp
        try:
            camera.trigger_capture()
        except gp.GPhoto2Error as error:
            if error.code != gp.GP_ERROR_NOT_SUPPORTED:
                raise
            made = camera.capture(gp.GP_CAPTURE_IMAGE)
            return str(made.folder), str(made.name)
        while self._broken_off[0] != attempt:
            kind, data = camera.wait_for_event(_EVENT_WAIT_MS)
            if kind == gp.GP_EVENT_FILE_ADDED:
                return str(data.folder), str(data.name)
        return None

    def _fetch(self, camera: Any, folder: str, name: str) -> bytes:
        """The file, whole."""
        # Not by the library's own way to save it, which does not tell of a disk that is full.
        file = camera.file_get(folder, name, self._gp.GP_FILE_TYPE_NORMAL)
        return bytes(file.get_data_and_size())

    def given_up(self, attempt: int, problem: str) -> Fired:
        """A camera that hangs as its file is fetched has taken the picture all the same."""
        taken, on_card = self._taken
        if taken == attempt:
            return _not_fetched(problem, on_card)
        return super().given_up(attempt, problem)

    def abort(self, attempt: int, why: str) -> None:
        """Wait no longer for that attempt's file."""
        self._broken_off = attempt, why

    def close(self) -> None:
        """Let go of the camera; safe to call twice."""
        camera, self._camera = self._camera, None
        if camera is not None:
            with contextlib.suppress(self._gp.GPhoto2Error):
                camera.exit()


def _not_fetched(why: str, on_card: str) -> Fired:
    problem = _("taken, but not fetched from the camera: {why}", why=why)
    return Fired(NAME, None, problem, on_card=on_card, trouble=Trouble.NOT_FETCHED)


def _words(error: Any) -> str:
    return str(getattr(error, "string", "") or error)
