"""Options that belong together, written once as a dataclass.

Typer reads a command's options from its signature alone. `spread` takes each parameter that is a
dataclass of options apart into one option a field, and puts it together again for the command. A
field marked by `assist.cli.options.of_model.Of` becomes the option that its model describes.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterator
from dataclasses import MISSING, fields, is_dataclass
from typing import Any, get_type_hints

from assist.cli.options.of_model import Of, OneOf


def spread(command: Callable[..., None]) -> Callable[..., None]:
    """The command with its dataclasses of options as single options, in the same order.

    Every field needs a default, and no two may share a name; TypeError otherwise.
    """
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {}
    parameters: list[inspect.Parameter] = []
    for parameter in inspect.signature(command).parameters.values():
        kind = hints[parameter.name]
        if is_dataclass(kind):
            groups[parameter.name] = kind
            parameters += _options(kind)
        else:
            parameters.append(
                parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY, annotation=kind)
            )
    names = [parameter.name for parameter in parameters]
    if len(set(names)) < len(names):
        raise TypeError(f"{command.__name__}: two options have one name")

    @functools.wraps(command)
    def run(**values: Any) -> None:
        made = {
            name: kind(**{field.name: values.pop(field.name) for field in fields(kind)})
            for name, kind in groups.items()
        }
        command(**made, **values)

    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {p.name: p.annotation for p in parameters} | {"return": None}
    return run


def _options(group: Any) -> Iterator[inspect.Parameter]:
    hints = get_type_hints(group, include_extras=True)
    for field in fields(group):
        if field.default is MISSING:
            raise TypeError(f"{group.__name__}.{field.name}: an option needs a default")
        yield inspect.Parameter(
            field.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=field.default,
            annotation=_annotation(field.name, hints[field.name]),
        )


def _annotation(name: str, hint: Any) -> Any:
    mark = next(
        (mark for mark in getattr(hint, "__metadata__", ()) if isinstance(mark, Of | OneOf)), None
    )
    return hint if mark is None else mark.option(name, hint.__origin__)
