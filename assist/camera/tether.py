"""The picture is taken by a camera on a cable, through libgphoto2's own Python binding.

The binding is an extra. Its functions raise one class of error, `GPhoto2Error`, with a number;
`gphoto2` is imported only here.
"""

from __future__ import annotations

import contextlib
import re
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from assist.base.errors import UserError
from assist.base.images import ColourImage
from assist.base.trouble import Trouble
from assist.base.words import _
from assist.camera.storing import store
from assist.camera.trigger import Fired, Trigger

NAME = "tether"
_EVENT_WAIT_MS = 50
_DRAIN_WAIT_MS = 1
_MOST_EVENTS = 1000
_SETTLED_S = 0.3
"""How long after "done" another file of the same picture may be told."""
_NO_MORE_S = 1.5
"""How long after its last file a camera that never says "done" counts as done."""
_SHOWN_FIRST = (".jpg", ".jpeg", ".heic", ".heif")
_BY_HAND = "by-hand"

_OnCard = tuple[str, str]
"""Folder and name of a file on the camera's card."""


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
    """Fires the camera, waits for its files and fetches them into the folder; the card keeps them.

    All files that the camera tells of until it says that it is done belong to the attempt; what it
    tells later goes to the attempt of the same name on the card. Pictures taken by hand in between
    are fetched as `by-hand-0001` and so on, and belong to no attempt.

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
        self._files: dict[int, list[_OnCard]] = {}
        """What the camera has told of, by attempt."""
        self._attempt_of: dict[_OnCard, int] = {}
        """The attempt by folder and name without ending: raw and JPEG share them."""
        self._strays: list[_OnCard] = []
        self._by_hand = 0
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
        """Capture and wait until the camera is done; `fetch` brings the files."""
        gp = self._gp
        released_s: float | None = None
        try:
            camera = self._open()
            self._drain(camera)
            released_s = time.monotonic()
            files = self._capture(camera, attempt)
        except gp.GPhoto2Error as error:
            self.close()
            files = self._files.get(attempt, [])
            if files:
                return replace(_not_fetched(_words(error), _path(files[0])), released_s=released_s)
            problem = _("the camera did not take the picture: {error}", error=_words(error))
            return Fired(NAME, None, problem, trouble=Trouble.CAMERA)
        if not files:
            problem = _("the camera gave no file; given up {why}", why=self._broken_off[1])
            return Fired(NAME, None, problem, trouble=Trouble.CAMERA)
        if self._broken_off[0] == attempt:
            not_fetched = _not_fetched(self._broken_off[1], _path(files[0]))
            return replace(not_fetched, released_s=released_s)
        return Fired(NAME, on_card=_path(files[0]), released_s=released_s, to_fetch=True)

    def fetch(self, fired: Fired, attempt: int) -> Fired:
        """Download all files of the attempt; the one that shows most easily comes first."""
        stored, problems, trouble = [], [], None
        for card_folder, name in list(self._files[attempt]):
            try:
                content = self._fetch(self._open(), card_folder, name)
            except self._gp.GPhoto2Error as error:
                self.close()
                problems.append(_not_fetched(_words(error), "").problem)
                trouble = Trouble.NOT_FETCHED
                break
            kept = store(self._folder, self._free_name(attempt, name), content)
            if kept.path is None:
                problems.append(_("taken, but not stored: {why}", why=kept.problem))
                trouble = Trouble.NOT_FETCHED
                continue
            stored.append(kept.path)
            problems += [kept.problem] if kept.problem else []
            trouble = trouble or kept.trouble
        stored.sort(key=lambda path: path.suffix not in _SHOWN_FIRST)
        return replace(
            fired,
            picture=stored[0] if stored else None,
            others=tuple(stored[1:]),
            problem="; ".join(dict.fromkeys(problems)),
            trouble=trouble,
        )

    def idle(self) -> None:
        """Take notice of what the camera tells meanwhile, and fetch what is of no attempt."""
        if self._camera is None:
            return
        try:
            self._drain(self._camera)
            while self._strays:
                folder, name = self._strays[0]
                content = self._fetch(self._camera, folder, name)
                self._strays.pop(0)
                attempt = self._attempt_of.get(_stem(folder, name))
                if attempt is None:
                    self._by_hand += 1
                    kept_as = f"{_BY_HAND}-{self._by_hand:04d}{_ending(name)}"
                else:
                    kept_as = self._free_name(attempt, name)
                store(self._folder, kept_as, content)
        except self._gp.GPhoto2Error:
            self.close()  # told when the next picture is wanted

    def _free_name(self, attempt: int, name: str) -> str:
        """`picture-0001.jpg`; a second one of the same ending is `picture-0001-2.jpg`."""
        ending, number = _ending(name), 1
        free = f"picture-{attempt:04d}{ending}"
        while (self._folder / free).exists():
            number += 1
            free = f"picture-{attempt:04d}-{number}{ending}"
        return free

    def _drain(self, camera: Any) -> None:
        """Take in what the camera has told since; what is not asked for lies in its queue."""
        gp = self._gp
        for _each in range(_MOST_EVENTS):
            try:
                kind, data = camera.wait_for_event(_DRAIN_WAIT_MS)
            except gp.GPhoto2Error as error:
                if error.code == gp.GP_ERROR_NOT_SUPPORTED:
                    return
                raise
            if kind == gp.GP_EVENT_TIMEOUT:
                return
            if kind == gp.GP_EVENT_FILE_ADDED:
                self._strays.append((str(data.folder), str(data.name)))

    def _capture(self, camera: Any, attempt: int) -> list[_OnCard]:
        """The files on the card of the picture just taken; none when broken off before.

        `trigger_capture` returns at once; cameras without it have `capture`, which waits.
        """
        gp = self._gp
        files = self._files.setdefault(attempt, [])
        done = False
        try:
            camera.trigger_capture()
        except gp.GPhoto2Error as error:
            if error.code != gp.GP_ERROR_NOT_SUPPORTED:
                raise
            made = camera.capture(gp.GP_CAPTURE_IMAGE)
            self._add(files, attempt, made)
            done = True
        last_s = time.monotonic()
        while self._broken_off[0] != attempt:
            try:
                kind, data = camera.wait_for_event(_EVENT_WAIT_MS)
            except gp.GPhoto2Error as error:
                if files and error.code == gp.GP_ERROR_NOT_SUPPORTED:
                    break
                raise
            now_s = time.monotonic()
            if kind == gp.GP_EVENT_FILE_ADDED:
                self._add(files, attempt, data)
                last_s = now_s
            elif kind == gp.GP_EVENT_CAPTURE_COMPLETE:
                done, last_s = True, now_s
            if files and now_s - last_s >= (_SETTLED_S if done else _NO_MORE_S):
                break
        return files

    def _add(self, files: list[_OnCard], attempt: int, told: Any) -> None:
        file = str(told.folder), str(told.name)
        whose = self._attempt_of.get(_stem(*file), attempt)
        # A name that was told before is a new picture: the camera counts from the start again.
        if whose != attempt and file not in self._files[whose]:
            self._strays.append(file)
        elif file not in files:
            files.append(file)
            self._attempt_of[_stem(*file)] = attempt

    def _fetch(self, camera: Any, folder: str, name: str) -> bytes:
        """The file, whole."""
        # Not by the library's own way to save it, which does not tell of a disk that is full.
        file = camera.file_get(folder, name, self._gp.GP_FILE_TYPE_NORMAL)
        return bytes(file.get_data_and_size())

    def given_up(self, attempt: int, problem: str) -> Fired:
        """A camera that hangs as its file is fetched has taken the picture all the same."""
        files = self._files.get(attempt)
        if files:
            return _not_fetched(problem, _path(files[0]))
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


def _path(file: _OnCard) -> str:
    return f"{file[0].rstrip('/')}/{file[1]}"


def _stem(folder: str, name: str) -> _OnCard:
    return folder, Path(name).stem


def _ending(name: str) -> str:
    return re.sub(r"[^a-z0-9.]", "", Path(name).suffix.lower())[:9]


def _not_fetched(why: str, on_card: str) -> Fired:
    problem = _("taken, but not fetched from the camera: {why}", why=why)
    return Fired(NAME, None, problem, on_card=on_card, trouble=Trouble.NOT_FETCHED)


def _words(error: Any) -> str:
    return str(getattr(error, "string", "") or error)
