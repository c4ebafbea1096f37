"""Where the program starts: from here on an interrupt ends it without a word.

The libraries take a second and more to load, and an exception raised by an interrupt meanwhile
would show the inside of whichever was being loaded. Nothing is open yet that would have to be
finished, so the process simply ends. Importing this module sets the handler: it is for the entry
points alone.
"""

import os

from assist.base.errors import INTERRUPTED

try:
    import signal  # by itself some milliseconds
except KeyboardInterrupt:
    os._exit(INTERRUPTED)


def _end_at_once(_number: int, _frame: object) -> None:
    os._exit(INTERRUPTED)


# One that is ignored stays so: whoever starts a program in the background may want that.
_heeded = signal.getsignal(signal.SIGINT) is signal.default_int_handler
if _heeded:
    signal.signal(signal.SIGINT, _end_at_once)


def main() -> None:
    """Load the command line and run it."""
    from assist import cli  # noqa: PLC0415

    app = cli.load()
    if _heeded:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        code = cli.run(app)
    finally:
        # What libraries do when the interpreter ends is no place for an exception either.
        if _heeded:
            signal.signal(signal.SIGINT, _end_at_once)
    raise SystemExit(code)
