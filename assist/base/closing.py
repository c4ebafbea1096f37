"""What must be closed after use, as a context manager."""

from __future__ import annotations

from abc import ABC, abstractmethod
from types import TracebackType
from typing import TypeVar

Own = TypeVar("Own", bound="Closing")


class Closing(ABC):
    """Something that is closed when its `with` block is left, however it is left."""

    @abstractmethod
    def close(self) -> None:
        """Let go of all that is held; safe to call twice."""

    def __enter__(self: Own) -> Own:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
