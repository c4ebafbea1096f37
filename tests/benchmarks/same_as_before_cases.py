"""The command lines that `tests.benchmarks.same_as_before` runs: plans, and wrong lines."""

from __future__ import annotations

from itertools import product

Words = tuple[str, ...]

_LENSES = ("24mm", "35mm", "50mm", "85mm", "135mm")
_APERTURES = ("f/1.8", "f/2.8", "f/5.6", "f/11")
_DISTANCES = ("1.5m", "3m", "10ft", "6m", "25m")
_SENSORS = ("full-frame", "aps-c-1.5", "four-thirds", "23.6x15.7")
_CRITERIA = ("diagonal/1500", "0.02mm", "2px", "print 30cm from 40cm")
_STATURES = ("1.20m", "1.70m", "6ft3")
_FRAMINGS = ("full-body", "knees-up", "waist-up", "chest-up", "head-and-shoulders")
_FURTHER: tuple[Words, ...] = (
    (),
    ("--ev", "9", "--iso", "400"),
    ("--posture", "seated", "--seat-height", "0.50m"),
    ("--units", "feet"),
    ("--camera-height", "1.4m", "--tilt", "5deg", "--background", "80m"),
    ("--orientation", "portrait", "--across", "33%", "--headroom", "8%"),
    ("--movement", "walking", "--shutter", "1/60", "--metered", "f/5.6 1/60 ISO 400"),
)


def _forward() -> list[Words]:
    """What follows from lens, aperture and distance; every value meets many others."""
    made: list[Words] = []
    for n, (lens, aperture) in enumerate(product(_LENSES, _APERTURES)):
        criterion = _CRITERIA[(n // 3) % 4]
        given: Words = ("--lens", lens, "--aperture", aperture, "--focus", _DISTANCES[n * 3 % 5],
                        "--sensor", _SENSORS[n % 4], "--criterion", criterion)  # fmt: skip
        if n % 4 != 3:
            given += ("--stature", _STATURES[n % 3])
        if criterion == "2px":
            given += ("--picture-width", "6000")
        made.append(given + _FURTHER[n % len(_FURTHER)])
    return made


def _where_it_fits() -> list[Words]:
    """A framing instead of the distance."""
    made: list[Words] = []
    for n, framing in enumerate(_FRAMINGS * 2):
        given: Words = ("--lens", _LENSES[(n + 1) % 5], "--aperture", _APERTURES[n % 4],
                        "--framing", framing, "--stature", _STATURES[n % 3],
                        "--sensor", _SENSORS[n % 4])  # fmt: skip
        if n >= len(_FRAMINGS):
            given += ("--posture", "seated", "--seat-height", "0.45m")
        made.append(given + ("--orientation", "portrait") * (n % 2))
    return made


def _searches() -> list[Words]:
    """The room that is wanted and the lenses that are owned."""
    owned: Words = ("--lens", "35mm f/1.8", "--lens", "50mm f/1.8",
                    "--lens", "24-70mm f/2.8-f/22 from 0.38m")  # fmt: skip
    made: list[Words] = []
    for n, framing in enumerate(_FRAMINGS * 3):
        given = (*owned, "--framing", framing, "--stature", _STATURES[n % 3])
        if n % 3 == 2:
            given += ("--pose-depth", ("0.8m", "0.3m", "1.5m")[n // 3 % 3])
        else:
            given += ("--room-before", "0.6m", "--room-behind", "0.4m")
        if n % 2:
            given += ("--max-distance", "6m")
        if n % 4 != 3:
            given += ("--ev", str(6 + n), "--iso-max", "3200")
        if n % 5 == 4:
            given += ("--looser-by", "25%", "--choose", "2")
        made.append(given + ("--posture", "seated") * (n % 7 == 6) + ("--units", "feet") * (n == 3))
    made += [
        ("--room-before", "2m", "--room-behind", "2m", "--lens", "135mm f/2", "--framing",
         "head-and-shoulders", "--max-distance", "2m"),  # nothing is found
        (*owned, "--room-before", "30cm", "--room-behind", "30cm", "--sensor", "aps-c-1.5",
         "--framing", "waist-up", "--criterion", "print 30cm from 40cm", "--ev", "12"),
    ]  # fmt: skip
    return made


def plans() -> list[Words]:
    """Options of `assist plan`, fifty and a few."""
    further: list[Words] = [
        ("--set-up", "good.toml"),
        ("--set-up", "good.toml", "--aperture", "f/8", "--units", "feet"),
        ("--lens", "35mm", "--aperture", "f/2", "--focus", "400"),
    ]
    return _forward() + _where_it_fits() + _searches() + further


WORDED = (0, 4, 7, 13, 19, 22, 27, 31, 36, 40, 45, 47)
"""Which of the plans are written out in words too."""

_LENS: Words = ("--lens", "35mm", "--aperture", "f/2", "--focus", "4m", "--no-window",
                "--through", "taking-lens")  # fmt: skip
_LIVE: Words = ("live", "broken.mp4", *_LENS)
_ROOM: Words = ("live", "room.mp4", *_LENS)
_PLAN: Words = ("plan", *_LENS[:-1])
_SEARCH: Words = ("plan", "--room-before", "0.6m", "--room-behind", "0.4m", "--lens", "50mm f/1.8")
_MARK: Words = ("calibrate", "mark", "broken.mp4")

BAD: tuple[Words, ...] = (
    ("dance",), ("live", "--dance"), ("live", "a", "b", *_LENS), ("calibrate", "dance"),
    ("live", *_LENS), ("live", "broken.mp4"), ("live", "gone.mp4", *_LENS), _LIVE,
    ("live", "97", *_LENS), ("live", "gopher://a", *_LENS), ("live", "empty", *_LENS),
    (*_LIVE, "--lens", "0mm"), (*_LIVE, "--lens", "long"), (*_LIVE, "--aperture", "0"),
    (*_LIVE, "--aperture", "wide"), (*_LIVE, "--focus", "-3m"), (*_LIVE, "--focus", "10cm"),
    (*_LIVE, "--focus", "nan"), (*_LIVE, "--sensor", "huge"), (*_LIVE, "--criterion", "crisp"),
    (*_LIVE, "--stature", "17m"), (*_LIVE, "--stature", "170"), (*_LIVE, "--through", "glass"),
    (*_LIVE, "--crop", "0.5"), (*_LIVE, "--crop", "much"), (*_LIVE, "--field-of-view", "400"),
    (*_LIVE, "--profile", "no.toml"), (*_LIVE, "--feed-profile", "bad.toml"),
    (*_LIVE, "--posture", "sitting"), (*_LIVE, "--orders-by", "shout"),
    (*_LIVE, "--timer", "soon"), (*_LIVE, "--timer", "-3"), (*_LIVE, "--timer-lag", "1s"),
    (*_LIVE, "--timer", "5s", "--when-ready", "2s"), (*_LIVE, "--burst", "3"),
    (*_LIVE, "--timer", "5s", "--burst", "1000"), (*_LIVE, "--if-not-ready", "hold"),
    (*_LIVE, "--timer", "5s", "--if-not-ready", "wait"), (*_LIVE, "--limit", "60s"),
    (*_LIVE, "--timer", "5s", "--burst-interval", "x"), (*_LIVE, "--trigger", "none"),
    (*_LIVE, "--timer", "5s", "--trigger", "flash"), (*_LIVE, "--on-fire", "true"),
    (*_LIVE, "--timer", "5s", "--on-fire", "nothing-of-that-name {number}"),
    (*_ROOM, "--volume", "101"), (*_ROOM, "--sound"), (*_ROOM, "--speech"),
    (*_LIVE, "--language", "xx"), (*_LIVE, "--units", "ells"), (*_LIVE, "--rotate", "45"),
    (*_LIVE, "--follow", "tallest"), (*_LIVE, "--theme", "pink"),
    (*_LIVE, "--screen-size", "10x10"), (*_LIVE, "--screen-diagonal", "1mm"),
    (*_LIVE, "--window-at", "1920"), (*_LIVE, "--share-port", "8000"),
    (*_LIVE, "--share", "--share-port", "99999"), (*_ROOM, "--share", "--share-address", "here"),
    (*_ROOM, "--share", "--share-qr", "a.gif"), (*_LIVE, "--ghost", "0.4"),
    (*_LIVE, "--repeat-attempt", "2"), (*_LIVE, "--repeat", "no-session"),
    (*_ROOM, "--pose-model", "no.task"),
    (*_ROOM, "--pose-model", "bad.toml"),
    (*_ROOM, "--output", "a.avi"),
    (*_ROOM, "--output", "no/a.mp4"),
    ("live", "broken.mp4", "--set-up", "no.toml"), ("live", "x", "--set-up", "broken.mp4"),
    ("live", "x", "--set-up", "bad.toml"), ("live", "x", "--set-up", "odd.toml"),
    ("live", "x", "--set-up", "flat.toml"), ("live", "x", "--set-up", "newer.toml"),
    ("rehearse", "broken.mp4", *_LENS, "--runs", "0"),
    ("rehearse", "room.mp4", *_LENS, "--speech"),
    ("rehearse", "room.mp4", *_LENS, "--timer", "none"),
    ("plan",), (*_PLAN, "--choose", "2"), (*_PLAN, "--movement", "dancing"),
    (*_PLAN, "--ev", "bright"), (*_PLAN, "--metered", "f/5.6"), (*_PLAN, "--iso", "0"),
    (*_PLAN, "--shutter", "1/0"), (*_PLAN, "--framing", "toes-up"), (*_PLAN, "--units", "ells"),
    (*_PLAN, "--orientation", "upside"), (*_PLAN, "--headroom", "150%"),
    (*_PLAN, "--save", "good.toml"), (*_PLAN, "--sheet", "a.pdf"),
    (*_PLAN, "--side-view", "a.gif"), (*_PLAN, "--criterion", "2px"), (*_PLAN, "--set-up", "no"),
    (*_SEARCH, "--choose", "0"), (*_SEARCH, "--choose", "99"),
    (*_SEARCH, "--max-distance", "-1m"), (*_SEARCH, "--pose-depth", "1m"),
    (*_SEARCH, "--iso-max", "x"), (*_SEARCH, "--lens", "24-70"),
    ("sounds", "--output", "tones.mp3"), ("sounds", "--volume", "-1"),
    ("review",), ("review", "gone.jpg"), ("review", "empty"), ("review", "bad.toml"),
    ("review", "room.jpg", "--workers", "0"), ("review", "room.jpg", "--print", "big"),
    ("review", "room.jpg", "--criterion", "crisp"), ("review", "room.jpg", "--session", "gone"),
    ("report",), ("report", "gone"), ("report", "empty"), ("sessions", "show", "gone"),
    ("sessions", "list", "gone"), ("demo", "--dance"),
    _MARK, (*_MARK, "--at", "3m"), (*_MARK, "--at", "x", "--out", "m.toml"),
    (*_MARK, "--at", "3m", "--field-of-view", "400", "--out", "m"),
    (*_MARK, "--at", "3m", "--out", "m.toml", "--measured", "air"),
    ("calibrate", "lens", "--lens", "35mm", "--focus", "4m", "--out", "a.toml"),
    ("calibrate", "lens", "--lens", "35mm", "--focus", "4m", "--out", "a.toml", "--size", "9"),
    ("calibrate", "view", "--out", "a.toml", "--size", "1920x1080"),
    ("calibrate", "view", "--out", "a.toml", "--size", "1920x1080", "--horizontal", "200deg"),
    ("calibrate", "board", "broken.mp4", "--out", "a.toml", "--kind", "dots"),
    ("calibrate", "board", "broken.mp4", "--out", "a.toml", "--squares", "1x1"),
    ("calibrate", "print-board", "b.pdf", "--square", "x"),
    ("calibrate", "print-board", "b.txt"),
)  # fmt: skip
