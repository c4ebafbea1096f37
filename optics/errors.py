"""The one error of this package; without NumPy, for whoever only wants to tell of it."""

from __future__ import annotations

from typing import Any


class ImpossibleValueError(ValueError):
    """A number that no camera, lens or place could have; the text names it and what would do.

    template: the message in English with {placeholders}, as a catalogue of translations has it.
    values: what belongs in them; text among them is a name of a quantity, for translation too.
    """

    def __init__(self, template: str, **values: object) -> None:
        super().__init__(template.format(**values) if values else template)
        self.template = template
        self.values = values

    def __reduce__(self) -> tuple[Any, ...]:
        return _again, (type(self), self.template, self.values)


def _again(
    kind: type[ImpossibleValueError], template: str, values: dict[str, object]
) -> ImpossibleValueError:
    return kind(template, **values)
