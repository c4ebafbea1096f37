"""The pages of the guide: each answers one question, on the terminal and on the program's page.

They are Markdown files beside this module, in English; a folder named by a language holds its
translations. Where a page has none, the English one is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources

TOPICS = (
    "install",
    "page",
    "connect",
    "plan",
    "live",
    "timer",
    "rehearse",
    "check-pictures",
    "calibrate",
    "narrow",
    "feed",
    "people",
    "access",
    "phone",
    "faults",
    "accuracy",
    "limits",
    "privacy",
    "safety",
)
"""The pages in the order in which somebody new would want them."""


@dataclass(frozen=True)
class Page:
    """One page.

    Attributes:
        topic: Its name, one of `TOPICS`.
        question: Its title, the question that it answers.
        text: The whole page, Markdown, with the title.
    """

    topic: str
    question: str
    text: str


def page(topic: str, language: str = "en") -> Page:
    """The page of a topic.

    Args:
        topic: One of `TOPICS`.
        language: `en`, `de`: English where the page is not there in it.

    Raises:
        KeyError: There is no such topic.
    """
    if topic not in TOPICS:
        raise KeyError(topic)
    folder = resources.files(__name__)
    translated = folder / language / f"{topic}.md"
    file = translated if translated.is_file() else folder / f"{topic}.md"
    text = file.read_text(encoding="utf-8")
    return Page(topic, text.splitlines()[0].lstrip("# "), text)


def pages(language: str = "en") -> tuple[Page, ...]:
    """All pages in their order."""
    return tuple(page(topic, language) for topic in TOPICS)
