"""What the options that `assist live` and `assist rehearse` have in common ask of a run."""

from __future__ import annotations

import sys

import typer

from assist.base.errors import UserError
from assist.base.words import Words, _, current, language_of_locale, use
from assist.cli.options import screen as screens
from assist.cli.options import set_up as set_ups
from assist.cli.options import share as sharing
from assist.cli.options.common import window_wanted
from assist.cli.options.feed_kind import settled
from assist.cli.options.telling import TellingOptions
from assist.cli.options.timer import seconds
from assist.cli.options.values import note
from assist.guidance.assistant import Known
from assist.run.live import LiveOptions
from assist.run.opening import RunRequest, UserLines
from assist.setup.feed_geometry import FeedGeometry
from assist.setup.set_up import SetUp


def asked(
    chosen: SetUp,
    source: str,
    given: set_ups.SetUpOptions,
    tell: TellingOptions,
    share: sharing.ShareOptions,
    screen: screens.WindowOptions,
    watch: set_ups.WatchOptions,
) -> RunRequest:
    """The request that the options make. Raises UserError naming the one that is wrong.

    `chosen` is the set-up that `given` makes, `source` the feed: through which lens that sees is
    asked where nobody said so, and the request's set-up has it. From here on the process speaks the
    language, and tells lengths in the units, that were asked for.
    """
    use(Words(watch.language or language_of_locale(), watch.units))
    show = window_wanted(screen.window)
    set_ups.check_together(chosen, given, watch)
    chosen = settled(chosen, source)
    profiles = given.profile_files(chosen).load()
    set_ups.remark_unlike(FeedGeometry.of(chosen, profiles.feed, profiles.personal))
    shared, place_px = sharing.gather(share), screens.place(screen)
    orders_by = chosen.person.orders_by
    how = LiveOptions(
        window=show,
        full_screen=screen.full_screen,
        window_at_px=place_px,
        screen=screens.gather(screen, shown=show),  # the last: it may ask a question
        orders_by=None if orders_by == "none" else orders_by,
        forward_only=watch.forward_only,
        known=Known(
            None if chosen.together.people else profiles.personal, profiles.feed, watch.follow
        ),
        rotated_deg=watch.rotate,
        teach_mark=watch.teach_mark or watch.teach_after is not None,
        teach_after_s=(
            None if watch.teach_after is None else seconds("--teach-after", watch.teach_after, 1.0)
        ),
    )
    if how.teach_mark and chosen.lens.focused_by == "scale":
        raise UserError(
            _(
                "--teach-mark tells nothing where the focus was set by the lens's scale: focus on "
                "something that stands on the mark, or on your eyes, and say so by --focused-by"
            )
        )
    return RunRequest(
        chosen,
        how,
        Words(current().language, watch.units),
        people=chosen.together.people or 1,
        pose_model=watch.pose_model,
        audible=tell.audible(),
        sharing=shared,
    )


def on_terminal() -> UserLines:
    """What a run tells its user, shown on this terminal."""
    return UserLines(typer.echo, note, draw_code=sys.stdout.isatty())
