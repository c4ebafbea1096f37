"""The question through which lens a feed sees: asked once at a terminal, then remembered."""

from __future__ import annotations

from pathlib import Path

import typer

from assist.base.errors import UserError, shown
from assist.base.secret import without_secrets
from assist.base.units import parse_angle_deg
from assist.base.words import _
from assist.cli.options.values import in_a_conversation, note
from assist.setup import preferences
from assist.setup.feed_kind import FeedKind, is_stated, with_kind
from assist.setup.set_up import SetUp

_USUAL_VIEW = "70deg"
"""Across the picture of many webcams. Common practice, no source."""


def settled(
    chosen: SetUp, source: str, path: Path | None = None, *, ask: bool | None = None
) -> SetUp:
    """The set-up with what is known of its feed: stated, remembered of that source, or asked now.

    path: of the preferences.   ask: whether somebody can be asked. Raises UserError where it is not
    known and nobody can be: a wrong guess makes every distance wrong in silence.
    """
    if is_stated(chosen):
        return chosen
    path, source = path or preferences.usual_path(), without_secrets(source)
    kept = preferences.load(path)
    kind = kept.feeds.get(source)
    if kind is not None:
        note(_told(kind, source))
        return with_kind(chosen, kind)
    if not (in_a_conversation() if ask is None else ask):
        raise UserError(
            _(
                "feed {feed}: say through which lens it sees: --through taking-lens (the camera's "
                "own video), or --through own-lens --field-of-view 70deg (a webcam or phone)",
                feed=shown(source),
            )
        )
    kind = _asked(source)
    settled_now = with_kind(chosen, kind)
    try:
        preferences.save(kept.model_copy(update={"feeds": {**kept.feeds, source: kind}}), path)
    except UserError as error:  # the run matters more than the memory of it
        note(_("the answer could not be kept: {error}", error=error))
    return settled_now


def _asked(source: str) -> FeedKind:
    through: str = typer.prompt(
        _(
            "Where does the picture of feed {feed} come from?\n"
            "  1  from the camera itself (HDMI and a capture stick, its webcam mode)\n"
            "  2  from a webcam or phone beside the camera\n"
            "1 or 2, asked once",
            feed=shown(source),
        ),
        value_proc=_one_or_two,
    )
    if through == "1":
        return FeedKind(through="taking-lens", horizontal_field_of_view_deg=None)
    view: float = typer.prompt(
        _("Its angle of view across the picture, from its data sheet"),
        default=_USUAL_VIEW,
        value_proc=_view,
    )
    return FeedKind(through="own-lens", horizontal_field_of_view_deg=view)


def _one_or_two(text: str) -> str:
    if text.strip() not in ("1", "2"):
        raise typer.BadParameter(_("type 1 or 2"))
    return text.strip()


def _view(text: str) -> float:
    try:
        angle = parse_angle_deg(text)
    except ValueError as error:
        raise typer.BadParameter(str(error)) from error
    if not 1 <= angle <= 170:
        raise typer.BadParameter(_("an angle of view is from 1 to 170 degrees"))
    return angle


def _told(kind: FeedKind, source: str) -> str:
    if kind.through == "taking-lens":
        return _(
            "feed {feed}: the camera's own video, as you said before (else give --through)",
            feed=shown(source),
        )
    return _(
        "feed {feed}: a webcam or phone, {angle:g} degrees across, as you said before (else give "
        "--through)",
        feed=shown(source),
        angle=kind.horizontal_field_of_view_deg,
    )
