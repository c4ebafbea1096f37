"""The one kind of error that is the user's to mend."""

from __future__ import annotations


class UserError(Exception):
    """Bad input or a missing thing, told in one line: what is wrong, the value, how to mend it.

    The command line prints the line and ends with exit code 2; nothing else is shown.
    """
