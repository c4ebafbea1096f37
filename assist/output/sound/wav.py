"""Sound as a file."""

from __future__ import annotations

import io
import wave
from pathlib import Path

import numpy as np

from assist.base.files import write_whole
from assist.output.sound.renderer import Samples


def write(path: Path, samples: Samples, rate_hz: int) -> None:
    """Write mono samples (-1 to 1) as 16-bit PCM, whole or not at all; UserError if it fails."""
    memory = io.BytesIO()
    with wave.open(memory, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes(np.round(samples * 32767.0).astype("<i2").tobytes())
    write_whole(path, memory.getvalue())
