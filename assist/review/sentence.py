"""What a review says of a picture: kept in English, told in the reader's language."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from pydantic import ValidatorFunctionWrapHandler, WrapValidator

from assist.base import terms
from assist.base.words import Words, speaking

_ENGLISH = Words()


class Sentence(str):
    """English, as files keep it, which can be told anew in the language that holds by then.

    Read back from a file, it is plain text.
    """

    tell: Callable[[], str]
    __slots__ = ("tell",)

    def __new__(cls, tell: Callable[[], str]) -> Sentence:
        """`tell` makes the text in the language that holds where it is called."""
        with speaking(_ENGLISH):
            made = super().__new__(cls, tell())
        made.tell = tell
        return made


def told(text: str) -> str:
    """A sentence or a term in the language that holds; any other text as it is."""
    return text.tell() if isinstance(text, Sentence) else terms.told(text)


def _kept(value: Any, validated: ValidatorFunctionWrapHandler) -> Any:
    return value if isinstance(value, Sentence) else validated(value)


Text = Annotated[str, WrapValidator(_kept)]
"""A field that may hold a sentence."""
