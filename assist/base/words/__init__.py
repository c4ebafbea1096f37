"""Every word shown, said or written to a page: English in the code, other languages in catalogues.

The catalogues are gettext's, the form that translators know: `locale/LANGUAGE/LC_MESSAGES/
assist.po`, compiled beside it. `python -m tests.catalogue` gathers messages and compiles. In code:

    from assist.base.words import _, _n, _p
    _("no sound from {device}", device=name)            # placeholders are filled in afterwards
    _n("{n} picture", "{n} pictures", count)            # singular and plural; {n} is the count
    _p("big word", "STOP")                              # a context, where one English word is two

These speak the language that holds where they are called: `use` sets it for the process (the
command line does), `speaking` for a block, a task or a thread's context. Whoever tells one person
something, in their own language and units, holds a `Words` of their own and calls its methods.
A message that is made in one place and told in another is marked there with `N_`, and handed to
`_` where it is told.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextvars import ContextVar

from assist.base.words.languages import language_of_locale, languages
from assist.base.words.words import Units, Words
from optics.errors import ImpossibleValueError

__all__ = [
    "N_",
    "Units",
    "Words",
    "_",
    "_n",
    "_p",
    "current",
    "language_of_locale",
    "languages",
    "of_error",
    "speaking",
    "use",
]

_of_process = Words()
_here: ContextVar[Words | None] = ContextVar("words", default=None)


def current() -> Words:
    """The words that hold here: of the block or task, else of the process."""
    return _here.get() or _of_process


def use(words: Words) -> None:
    """Let the whole process speak so, threads included."""
    global _of_process  # noqa: PLW0603
    _of_process = words


@contextlib.contextmanager
def speaking(words: Words) -> Iterator[None]:
    """Speak so within the block; other tasks and threads go on as they did."""
    token = _here.set(words)
    try:
        yield
    finally:
        _here.reset(token)


def N_(message: str) -> str:  # noqa: N802
    """The message itself, marked for translation: for a constant that `_` is given later."""
    return message


def _(message: str, **values: object) -> str:
    """The message in the language that holds here, its {placeholders} filled in."""
    return current().gettext(message, **values)


def _n(one: str, many: str, n: int, **values: object) -> str:
    """The singular or plural message for a count, told as {n}."""
    return current().ngettext(one, many, n, **values)


def _p(context: str, message: str, **values: object) -> str:
    """The message that has this meaning in this context."""
    return current().pgettext(context, message, **values)


def of_error(error: BaseException) -> str:
    """What an error says: one of `optics` in the language that holds, any other as it is.

    Names of quantities among an error's values are translated too, and so are errors among them.
    """
    if not isinstance(error, ImpossibleValueError):
        return str(error)
    words = current()

    def told(value: object) -> object:
        if isinstance(value, BaseException):
            return of_error(value)
        if isinstance(value, float):
            return _Figure(value)
        return words.gettext(value) if isinstance(value, str) else value

    values = {name: told(value) for name, value in error.values.items()}
    return words.gettext(error.template, **values)


class _Figure(float):
    """A number that is written with the language's decimal mark."""

    def __format__(self, form: str) -> str:
        return current().decimal(super().__format__(form))
