"""Pages for reading: what every HTML file that the program writes has in common.

A page is a jinja2 template in the `templates` folder of the room that writes it, and extends one of
this room's: `page.html` for the common look, `bare.html` for a look of its own. Whatever is put
into it is escaped, unless it is `Markup`: a drawing made by this program. A page holds no script
and fetches nothing from outside; a content security policy says so too.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from assist.base import words

_HERE = "assist.base"


@lru_cache
def _environment(room: str) -> Environment:
    """Templates of a package such as `assist.plan`, and those of this one."""
    made = Environment(
        loader=ChoiceLoader([PackageLoader(package) for package in dict.fromkeys((room, _HERE))]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    # They look for the language that holds each time they are called.
    made.globals.update(_=words._, _n=words._n, _p=words._p, language=_language)
    return made


def _language() -> str:
    return words.current().language


def rendered(room: str, template: str, **values: Any) -> bytes:
    """A template of a package, filled in."""
    return _environment(room).get_template(template).render(**values).encode()
