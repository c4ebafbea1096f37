"""Files of the program's own kinds, read with limits: one clear line whatever is in them.

A set-up, a profile or a record may come from somebody else, from a failing card or from an editor
that saved it wrongly. Nothing here reads more than the limit, waits for a pipe, or lets a parser's
own errors through.
"""

from __future__ import annotations

import json
import math
import os
import stat
from pathlib import Path
from typing import Any

import tomlkit

from assist.base.errors import UserError
from assist.base.words import _

MOST_TOML_BYTES = 32_000
"""A set-up is about 3 kB. The parser takes some seconds for the worst texts of this size."""
MOST_RECORD_BYTES = 64_000_000
"""Several thousand attempts of about 2 kB."""
MOST_JSON_BYTES = 64_000_000
"""A review's result is about 2 kB a picture."""


def size_of(path: Path, what: str, most_bytes: int) -> int:
    """The size of a regular file; UserError when it is none, or larger than the limit."""
    try:
        about = path.stat()
    except FileNotFoundError as error:
        raise UserError(_("{what} does not exist", what=what)) from error
    except OSError as error:
        raise UserError(_("{what} cannot be read: {why}", what=what, why=error.strerror)) from error
    except ValueError as error:  # a null character in the name
        raise UserError(_("{what} cannot be read: {why}", what=what, why=error)) from error
    if stat.S_ISDIR(about.st_mode):
        raise UserError(_("{what} cannot be read: it is a folder", what=what))
    if not stat.S_ISREG(about.st_mode):
        raise UserError(_("{what} cannot be read: it is not an ordinary file", what=what))
    if about.st_size > most_bytes:
        raise _too_large(what, most_bytes)
    return about.st_size


def read_bytes(path: Path, what: str, most_bytes: int) -> bytes:
    """The content of a regular file no larger than the limit. Raises UserError.

    `what` names the file in the message, such as "set-up file a.toml".
    """
    size_of(path, what, most_bytes)
    try:
        # A pipe that took the file's place meanwhile must not be waited for.
        handle = os.open(
            path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        )
        with os.fdopen(handle, "rb") as file:
            content = file.read(most_bytes + 1)
    except OSError as error:
        raise UserError(_("{what} cannot be read: {why}", what=what, why=error.strerror)) from error
    if len(content) > most_bytes:
        raise _too_large(what, most_bytes)
    return content


def read_toml(path: Path, what: str) -> dict[str, Any]:
    """The nested values of a TOML file. Raises UserError; `what` names the file."""
    content = read_bytes(path, what, MOST_TOML_BYTES)
    try:
        text = content.decode("utf-8-sig")  # some editors begin with a byte order mark
    except UnicodeDecodeError as error:
        raise UserError(
            _(
                "{what} cannot be read: byte {at} is not UTF-8; save it as UTF-8 text",
                what=what,
                at=error.start,
            )
        ) from error
    try:
        return dict(tomlkit.parse(text).unwrap())
    except RecursionError as error:
        raise UserError(
            _("{what} is not TOML that can be read: nested too deeply", what=what)
        ) from error
    except Exception as error:  # besides its own kind the parser raises what it stumbles over
        raise UserError(
            _("{what} is not TOML: {error}", what=what, error=one_line(error))
        ) from error


def parse_json(content: bytes) -> Any:
    """JSON with finite numbers and whole characters only; ValueError says what is wrong."""
    try:
        value = json.loads(
            content.decode("utf-8"), parse_constant=_refuse_constant, parse_float=_finite
        )
    except RecursionError as error:
        raise ValueError(_("nested too deeply")) from error
    if b"\\u" in content:  # an escape may be half a character, which no file or page can hold
        json.dumps(value, ensure_ascii=False).encode()
    return value


def one_line(error: BaseException) -> str:
    """What an error says, on one line of bearable length."""
    words = " ".join(str(error).split()) or type(error).__name__
    return words if len(words) <= 200 else f"{words[:196]} ..."


def _refuse_constant(text: str) -> float:
    raise ValueError(_("{value} is not a finite number", value=text))


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(_("{value} is not a finite number", value=text[:40]))
    return number


def _too_large(what: str, most_bytes: int) -> UserError:
    return UserError(
        _(
            "{what} cannot be read: larger than {size}, the most allowed",
            what=what,
            size=_size(most_bytes),
        )
    )


def _size(number: int) -> str:
    return f"{number // 1_000_000} MB" if number >= 1_000_000 else f"{number // 1000} kB"
