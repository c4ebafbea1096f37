"""Whether the sounds can be told apart in noise: `python -m tests.benchmarks.sounds_apart`.

A recogniser listens to three seconds, beginning anywhere in a figure, at any loudness, in a room
with an echo, in noise as loud as the sound. It knows each sound from examples without noise, as
somebody does who has heard `assist sounds`: a picture of pitch over time in semitone bands, 260
to 1500 Hz, every 20 ms. It takes the sound whose example fits best, wherever that begins. The
examples are of other distances than the sounds to be told.

Noise: wind at a microphone or an ear, whose power falls with frequency to the power of -5/3 above
some 10 Hz as turbulence does (Kolmogorov's law for the inertial range, from memory); and, much
harder, noise of equal power in all the bands that the sounds lie in. Loudness is that of the sound
while it sounds, root mean square, over all frequencies from 20 Hz to 8 kHz for wind, and from 260
to 1500 Hz for the other. Kept as results/sounds_apart.md.
"""

from __future__ import annotations

import argparse
import itertools
from collections import Counter
from collections.abc import Callable

import numpy as np

from assist.guidance.advice import Sideways
from assist.guidance.guide import Action, Guidance, Reason, Why
from assist.output.sound.cues import CueMaker, Kind
from assist.output.sound.renderer import Renderer
from optics.focus_zone import FocusZone
from tests.benchmarks.tables import keep, table

RATE_HZ = 16000
HEARD_S = 3.0
ZONE = FocusZone(3.5, 4.0, 4.5)
LOW_HZ, HIGH_HZ = 260.0, 1500.0
_HOP_S, _WINDOW_S = 0.02, 0.064
_ECHO = ((0.031, 0.4), (0.067, 0.25), (0.113, 0.15))
"""An invented room: seconds and strength of three reflections."""
SAYS: dict[str, Callable[[float], Guidance]] = {
    "forward": lambda m: _guidance(Action.FORWARD, 0.5 + m),
    "back": lambda m: _guidance(Action.BACK, -0.5 - m),
    "stop": lambda _: _guidance(Action.STOP, 0.4),
    "hold": lambda _: _guidance(Action.HOLD, 0.0),
    "not sure": lambda m: _guidance(Action.NOT_SURE, m if m > 1 else -m - 0.3),
    "cut off": lambda _: _guidance(Action.REFRAME, 0.0),
    "left": lambda _: _guidance(Action.REFRAME, 0.0, 0.8),
    "right": lambda _: _guidance(Action.REFRAME, 0.0, -0.8),
    "go round": lambda m: _guidance(Action.AGAIN, -0.5 - m),
    "no one": lambda _: _guidance(Action.NO_ONE, None),
}
EXAMPLES_M = (0.02, 0.3, 0.7, 1.2, 1.8, 2.5)
TOLD_M = (0.05, 0.15, 0.5, 0.9, 1.5, 2.2)


def _guidance(action: Action, to_mark_m: float | None, aside_m: float | None = None) -> Guidance:
    aside = () if aside_m is None else (Sideways(aside_m, aside_m > 0),)
    return Guidance(action, to_mark_m, Why(Reason.NOT_SURE), advice=aside)


def sound(name: str, outside_m: float, seconds: float) -> np.ndarray:
    """The sound of somebody who stays so far outside the zone."""
    renderer, cues = Renderer(RATE_HZ, 100), CueMaker(ZONE)
    block, made = round(0.02 * RATE_HZ), []
    for _ in range(round(seconds / 0.02)):
        renderer.tell(cues.cue(SAYS[name](outside_m)), None)
        made.append(renderer.render(block))
    return np.concatenate(made).astype(float)


def heard_as(samples: np.ndarray) -> np.ndarray:
    """Pitch over time: how strong each semitone's band is, (bands, hops), its floor taken away."""
    window, hop = round(_WINDOW_S * RATE_HZ), round(_HOP_S * RATE_HZ)
    starts = np.arange(0, len(samples) - window, hop)
    frames = samples[starts[:, None] + np.arange(window)] * np.hanning(window)
    power = np.abs(np.fft.rfft(frames, 4096)) ** 2
    frequency = np.fft.rfftfreq(4096, 1 / RATE_HZ)
    edges = LOW_HZ * 2 ** (np.arange(0, 12 * np.log2(HIGH_HZ / LOW_HZ) + 1) / 12)
    bands = np.array([
        power[:, (frequency >= low) & (frequency < high)].sum(axis=1)
        for low, high in itertools.pairwise(edges)
    ])  # fmt: skip
    level = np.sqrt(bands)
    above = np.maximum(level - np.percentile(level, 40, axis=1, keepdims=True), 0.0)
    steady = np.median(level, axis=1, keepdims=True)
    # A tone without end has no floor to stand out from: it stands out from its neighbours.
    beside = np.median(steady)
    lasting = np.maximum(steady - 3.0 * beside, 0.0)
    return np.asarray(above + lasting)


def likeness(heard: np.ndarray, example: np.ndarray) -> float:
    """The best agreement of what was heard with an example, wherever that begins."""
    length = heard.shape[1]
    scale = np.linalg.norm(heard)
    best = 0.0
    for start in range(0, example.shape[1] - length + 1, 2):
        part = example[:, start : start + length]
        norm = np.linalg.norm(part)
        if norm > 0 and scale > 0:
            best = max(best, float((heard * part).sum() / (scale * norm)))
    return best


def examples() -> list[tuple[str, np.ndarray]]:
    """What the listener has learned."""
    known = []
    for name in SAYS:
        places = EXAMPLES_M if name in ("forward", "back", "not sure", "go round") else (0.5,)
        for place_m in places:
            period_s = 3.1 if name == "no one" else 1.3
            known.append((name, heard_as(sound(name, place_m, HEARD_S + period_s))))
    return known


def wind(count: int, rng: np.random.Generator) -> np.ndarray:
    """Noise whose power falls with frequency to the power of -5/3."""
    frequency = np.fft.rfftfreq(count, 1 / RATE_HZ)
    part = np.where((frequency >= 20) & (frequency <= 8000),
                    np.maximum(frequency, 20) ** (-5 / 6), 0)  # fmt: skip
    return np.fft.irfft(part * np.exp(2j * np.pi * rng.random(len(frequency))), count)


def band(count: int, rng: np.random.Generator) -> np.ndarray:
    """Noise of equal power in each semitone's band that the sounds lie in."""
    frequency = np.fft.rfftfreq(count, 1 / RATE_HZ)
    inside = (frequency >= LOW_HZ) & (frequency <= HIGH_HZ)
    part = np.where(inside, np.maximum(frequency, 1) ** -0.5, 0)
    return np.fft.irfft(part * np.exp(2j * np.pi * rng.random(len(frequency))), count)


NOISES = {"wind": wind, "all in the sounds' own bands": band}


def in_noise(name: str, noise: str, rng: np.random.Generator, decibels: float = 0.0) -> np.ndarray:
    """Three seconds of a sound in noise, beginning anywhere; the noise is so much fainter."""
    place_m = float(rng.choice(TOLD_M))
    whole = sound(name, place_m, HEARD_S + 3.2)
    start = int(rng.integers(0, len(whole) - round(HEARD_S * RATE_HZ)))
    part = whole[start : start + round(HEARD_S * RATE_HZ)].copy()
    for delay_s, strength in _ECHO:
        shift = round(delay_s * RATE_HZ)
        part[shift:] += strength * whole[start : start + len(part)][:-shift]
    loud = part[np.abs(part) > 0.1 * np.abs(part).max()]
    made = NOISES[noise](len(part), rng)
    made *= np.sqrt(np.mean(loud**2) / np.mean(made**2)) * 10 ** (-decibels / 20)
    return (part + made) * rng.uniform(0.05, 1.0)


def recognised(heard: np.ndarray, known: list[tuple[str, np.ndarray]]) -> str:
    """What the listener takes it for."""
    picture = heard_as(heard)
    return max(known, key=lambda one: likeness(picture, one[1]))[0]


def trial(noise: str, times: int, seed: int = 5) -> dict[str, Counter[str]]:
    """Of each sound, what it was taken for."""
    rng, known = np.random.default_rng(seed), examples()
    return {
        name: Counter(recognised(in_noise(name, noise, rng), known) for _ in range(times))
        for name in SAYS
    }


def main() -> None:
    """Measure, print, keep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=40, help="how often each sound is heard")
    options = parser.parse_args()
    assert {*Kind} <= {cue.kind for name in SAYS if (cue := CueMaker(ZONE).cue(SAYS[name](0.5)))}
    text = "# Sounds in noise as loud as they are\n\nRows: what sounded; columns: taken for.\n"
    for noise in NOISES:
        found = trial(noise, options.times)
        right = sum(taken[name] for name, taken in found.items())
        text += f"\nNoise: {noise}. Right {right / (options.times * len(SAYS)):.1%}.\n\n" + table(
            ["", *SAYS], [[name, *(str(taken[other] or "") for other in SAYS)]
                          for name, taken in found.items()]
        )  # fmt: skip
    keep("sounds_apart", text)


if __name__ == "__main__":
    main()
