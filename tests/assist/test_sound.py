"""Tones measured with SciPy: spectra for pitch, envelopes for tempo and timing, levels in dBFS."""

import dataclasses
import itertools
import math
import time

import numpy as np
import pytest
from scipy.io import wavfile
from scipy.signal import hilbert

from assist.base.errors import UserError
from assist.base.words import Words
from assist.guidance.countdown import CountdownState
from assist.guidance.guide import Action, Guide
from assist.output.sound import level, tour, wav
from assist.output.sound.cues import KINDS, CueMaker, Kind
from assist.output.sound.listener import Tones
from assist.output.sound.note_patterns import (
    BEGIN,
    BESIDE,
    END,
    LAST_TICK,
    NOTE_S,
    NOW,
    SIGNAL,
    TAKEN,
    TICK,
    TROUBLE,
)
from assist.output.sound.output import NoSoundError
from assist.output.sound.renderer import Renderer
from assist.output.sound.signals import Signals
from optics.focus_zone import FocusZone
from tests.assist.telling import guidance_of, message_of

RATE_HZ = 48000
BLOCK = 480
ZONE = FocusZone(3.5, 4.0, 4.7, 0.05)
CUES = CueMaker(ZONE)


def cue(action, to_mark_m):
    return CUES.cue(guidance_of(action, to_mark_m))


def render(seconds, told, volume=100, block=BLOCK, rate_hz=RATE_HZ):
    """`told(time_s)` gives (cue, countdown) before each block; None tells nothing."""
    renderer = Renderer(rate_hz, volume)
    blocks = []
    for _ in range(round(seconds * rate_hz / block)):
        news = told(renderer.rendered_s)
        if news is not None:
            renderer.tell(*news)
        blocks.append(renderer.render(block))
    return np.concatenate(blocks).astype(float)


def steadily(action, to_mark_m, seconds=4.0, **options):
    return render(seconds, lambda _: (cue(action, to_mark_m), None), **options)


def pitch_hz(samples, rate_hz=RATE_HZ):
    """Strongest frequency, by a padded spectrum with a parabola through its peak."""
    padded = 2 ** math.ceil(math.log2(8 * len(samples)))
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), padded))
    k = int(spectrum.argmax())
    a, b, c = np.log(spectrum[k - 1 : k + 2])
    return (k + 0.5 * (a - c) / (a - 2 * b + c)) * rate_hz / padded


def envelope(samples):
    smooth = np.hanning(241)
    return np.convolve(np.abs(hilbert(samples)), smooth / smooth.sum(), "same")


def beats_s(samples, least_gap_s):
    """Middle times of the bursts of sound that lie at least so far apart."""
    e = envelope(samples)
    loud = np.flatnonzero(e > 0.2 * e.max())
    bursts = np.split(loud, np.flatnonzero(np.diff(loud) > least_gap_s * RATE_HZ) + 1)
    return np.array([(burst[0] + burst[-1]) / 2 for burst in bursts]) / RATE_HZ


def sounding(samples, threshold=0.05):
    e = envelope(samples)
    return samples[e > threshold * e.max()]


# -- what the sounds tell ------------------------------------------------------------------------


def test_somebody_who_cannot_be_measured_sounds_like_doubt_and_not_like_nobody():
    cue = CUES.cue(Guide(ZONE).unmeasured())
    assert cue.kind is Kind.DOUBT
    near, far = (CUES.cue(guidance_of(Action.NOT_SURE, m)) for m in (-0.1, 0.1))
    assert near.pitch_hz < cue.pitch_hz < far.pitch_hz


def test_every_action_has_a_sound():
    assert set(KINDS) == set(Action)


def test_without_a_feed_there_is_silence():
    assert np.abs(steadily(Action.NO_FEED, None)).max() == 0.0


@pytest.mark.parametrize("to_mark_m", [0.75, 1.0, 1.5, 2.0, 3.0, 3.9, 6.0])
@pytest.mark.parametrize("action", [Action.FORWARD, Action.BACK])
def test_pitch_and_tempo_are_those_of_the_cue(action, to_mark_m):
    to_mark_m = to_mark_m if action is Action.FORWARD else -to_mark_m
    wanted = cue(action, to_mark_m)
    samples = steadily(action, to_mark_m, 8.0)
    first = sounding(samples[: round(0.06 * RATE_HZ)])
    assert pitch_hz(first) == pytest.approx(wanted.pitch_hz, rel=0.03)
    gaps = np.diff(beats_s(samples, 0.01)[:-2])  # the end may cut the last of them short
    if action is Action.BACK:  # pairs: the short gap within, the rest to the next pair
        assert gaps[0::2] == pytest.approx(0.12, abs=0.005)
        periods = gaps[0:-1:2] + gaps[1::2]
    else:
        periods = gaps
    assert 1 / np.median(periods) == pytest.approx(wanted.tempo_hz, rel=0.02)


def test_too_far_is_always_above_the_mark_and_too_near_always_below_by_three_semitones_or_more():
    for metres in np.linspace(0.0, 10.0, 50):
        far, near = cue(Action.FORWARD, metres), cue(Action.BACK, -metres)
        assert 12 * math.log2(far.pitch_hz / 600.0) > 3
        assert 12 * math.log2(near.pitch_hz / 600.0) < -3


def test_nearer_is_quicker_and_closer_in_pitch_without_exception():
    for action, sign in ((Action.FORWARD, 1), (Action.BACK, -1)):
        made = [cue(action, sign * m) for m in np.linspace(0.5, 3.4, 30)]
        for near, far in itertools.pairwise(made):
            assert near.tempo_hz >= far.tempo_hz
            assert abs(math.log(near.pitch_hz / 600)) <= abs(math.log(far.pitch_hz / 600))
        assert made[0].tempo_hz > 3 * made[-1].tempo_hz


def test_all_pitches_can_be_heard_from_a_telephone_and_by_old_ears():
    made = [cue(a, s * m) for m in np.linspace(0, 20, 50)
            for a, s in ((Action.FORWARD, 1), (Action.BACK, -1))]  # fmt: skip
    assert all(299.9 <= one.pitch_hz <= 1200.1 for one in made)


def test_in_focus_is_one_steady_tone():
    samples = steadily(Action.HOLD, 0.1, 3.0)[RATE_HZ:]
    assert pitch_hz(samples) == pytest.approx(600.0, abs=0.1)
    e = envelope(samples)[1000:-1000]
    assert e.std() / e.mean() < 0.02 + 0.15  # the overtones beat within each cycle
    loud = [np.sqrt(np.mean(s**2)) for s in np.split(samples[: RATE_HZ * 2], 100)]
    assert np.ptp(loud) / np.mean(loud) < 1e-3


def bursts_s(samples):
    """Beginnings and ends of what sounds above a quarter of its own highest envelope."""
    e = envelope(samples)
    edges = np.flatnonzero(np.diff(np.pad((e > 0.25 * e.max()).astype(int), 1)))
    return edges.reshape(-1, 2) / RATE_HZ


def test_stop_is_three_quick_notes_at_the_pitch_of_the_mark_and_hold_has_no_gap():
    """Told apart by pattern alone: both are brought to one level first."""
    stop, hold = (s / s.std() for s in (steadily(Action.STOP, 0.6), steadily(Action.HOLD, 0.6)))
    assert pitch_hz(hold) == pytest.approx(600.0, abs=0.1)
    bursts = bursts_s(stop[: 4 * RATE_HZ - 4800])
    assert pitch_hz(stop[: round(bursts[0, 1] * RATE_HZ)]) == pytest.approx(600.0, rel=0.01)
    starts, lengths = bursts[:, 0], np.diff(bursts)[:, 0]
    assert len(starts) == 24
    assert np.diff(starts.reshape(-1, 3)) == pytest.approx(0.09, abs=0.002)
    assert np.diff(starts[::3]) == pytest.approx(0.5, abs=0.002)
    assert lengths.max() < 0.06
    assert len(bursts_s(hold)) == 1


def test_doubt_wavers_and_still_leans_to_the_likelier_side():
    """The pitch of each note goes up, down and back; that of an order stays."""
    for metres in (0.8, -0.8):
        unsure = steadily(Action.NOT_SURE, metres)
        assert np.diff(beats_s(unsure, 0.1)) == pytest.approx(0.8, abs=0.01)
        mean_hz = cue(Action.NOT_SURE, metres).pitch_hz
        bursts = bursts_s(unsure)
        begin_s, end_s = bursts[2]
        quarters = np.array_split(unsure[round(begin_s * RATE_HZ) : round(end_s * RATE_HZ)], 2)
        high, low = (12 * math.log2(pitch_hz(part) / mean_hz) for part in quarters)
        assert 2.0 < high < 4.5
        assert -4.5 < low < -2.0
    order = steadily(Action.FORWARD, 0.8)
    begin_s, end_s = bursts_s(order)[2]
    halves = np.array_split(order[round(begin_s * RATE_HZ) : round(end_s * RATE_HZ)], 2)
    assert pitch_hz(halves[0]) == pytest.approx(pitch_hz(halves[1]), rel=0.01)
    assert cue(Action.NOT_SURE, 0.3).pitch_hz > 600 > cue(Action.NOT_SURE, -0.3).pitch_hz


def test_no_one_is_a_low_note_every_three_seconds():
    samples = steadily(Action.NO_ONE, None, 10.0)
    assert np.diff(beats_s(samples, 0.5)) == pytest.approx(3.0, abs=0.01)
    assert pitch_hz(samples) == pytest.approx(400.0, rel=0.01)


def loudest_dbfs(samples, seconds=0.125):
    """The highest level over so long, which is what an ear takes in at once."""
    count = round(seconds * RATE_HZ)
    power = np.convolve(samples**2, np.ones(count) / count, "valid")
    return 10 * math.log10(power.max())


def test_none_of_the_states_is_left_much_softer_than_the_others():
    """Somebody who walks five metres away must hear doubt, and that nobody is seen, as well."""
    states = [(Action.FORWARD, 2.0), (Action.BACK, -2.0), (Action.STOP, 0.5), (Action.HOLD, 0.0),
              (Action.NOT_SURE, 0.8), (Action.NOT_SURE, -0.8), (Action.NO_ONE, None)]  # fmt: skip
    samples = [steadily(*state) for state in states]
    assert np.ptp([loudest_dbfs(one) for one in samples]) < 6.0
    assert np.ptp([20 * math.log10(np.abs(one).max()) for one in samples]) < 5.0


# -- timing --------------------------------------------------------------------------------------


def test_a_change_is_heard_at_once_and_what_was_before_is_over_within_20_ms():
    def told(t):
        return (cue(Action.FORWARD, 3.9) if t < 2.0 else cue(Action.HOLD, 0.0), None)

    samples = render(3.0, told)
    after = samples[round(2.02 * RATE_HZ) : round(2.22 * RATE_HZ)]
    assert pitch_hz(after) == pytest.approx(600.0, rel=0.01)
    assert np.abs(samples[round(2.0 * RATE_HZ) : round(2.06 * RATE_HZ)]).max() > 0.05


def test_a_tempo_that_quickens_does_not_wait_for_the_slow_beat():
    def told(t):
        return (cue(Action.FORWARD, 6.0 if t < 1.05 else 0.75), None)

    times = beats_s(render(2.0, told), 0.01)
    assert times[times > 1.1][0] < 1.05 + 0.2 + 0.12


def test_without_news_the_tones_fall_silent_after_half_a_second():
    samples = render(3.0, lambda t: (cue(Action.HOLD, 0.0), None) if t < 1.0 else None)
    assert np.abs(samples[round(1.3 * RATE_HZ) : round(1.45 * RATE_HZ)]).max() > 0.05
    assert np.abs(samples[round(1.55 * RATE_HZ) :]).max() == 0.0


def counting(total_s, until_fired=True, jitter=lambda t: 0.0):
    def told(t):
        if t < 0.5:
            return (None, None)
        left = max(0.0, total_s - (t + jitter(t) - 0.5))
        return (None, CountdownState(left, math.ceil(left), until_fired and left == 0.0))

    return told


def test_a_tick_each_second_at_the_second_and_higher_for_the_last_three():
    samples = render(6.5, counting(5.0))[: round(5.4 * RATE_HZ)]
    e = np.abs(samples)
    onsets = list(np.flatnonzero(e > 0.02 * e.max()) / RATE_HZ)
    starts = [onsets[0]] + [b for a, b in itertools.pairwise(onsets) if b - a > 0.3]
    assert starts == pytest.approx([0.5, 1.5, 2.5, 3.5, 4.5], abs=0.003)
    for start, note in zip(starts, TICK * 2 + LAST_TICK * 3, strict=True):
        piece = samples[round(start * RATE_HZ) :][: round(0.06 * RATE_HZ)]
        assert pitch_hz(piece) == pytest.approx(note.pitch_hz, rel=0.01)


def test_pictures_that_come_unevenly_neither_double_nor_shake_the_ticks():
    rng = np.random.default_rng(7)
    samples = render(11.0, counting(10.0, jitter=lambda _: rng.uniform(-0.02, 0.02)))
    e = np.abs(samples[: round(10.45 * RATE_HZ)])
    onsets = np.flatnonzero(e > 0.02 * e.max()) / RATE_HZ
    starts = [onsets[0]] + [b for a, b in itertools.pairwise(onsets) if b - a > 0.3]
    assert len(starts) == 10
    assert np.diff(starts) == pytest.approx(1.0, abs=0.02)


def test_taken_is_three_rising_notes_once():
    samples = render(3.5, counting(1.0))
    heard = samples[round(1.5 * RATE_HZ) :]
    each = round(0.12 * RATE_HZ)
    pitches_hz = [note.pitch_hz for note in TAKEN]
    assert pitches_hz == sorted(pitches_hz)
    for n, wanted in enumerate(pitches_hz):
        assert pitch_hz(heard[n * each : (n + 1) * each]) == pytest.approx(wanted, rel=0.01)
    assert np.abs(heard[round(0.4 * RATE_HZ) :]).max() == 0.0


def signals_at_zero(**turns):
    def told(t):
        return None, CountdownState(0.0, 0, t >= 0.5, **(turns if t >= 0.5 else {}))

    return render(2.0, told)[round(0.5 * RATE_HZ) :]


def test_a_picture_that_nobody_tells_of_is_one_long_note_and_not_that_of_taken():
    heard = signals_at_zero(unheard=True)
    (note,) = NOW
    (burst,) = bursts_s(heard)
    assert burst == pytest.approx([0.0, note.seconds], abs=0.03)
    assert pitch_hz(heard) == pytest.approx(note.pitch_hz, rel=0.01)


def test_a_picture_that_was_not_taken_sounds_as_failed_and_not_as_taken_too():
    heard = signals_at_zero(trouble=True)
    assert notes_in(heard) == pytest.approx([note.pitch_hz for note in TROUBLE], abs=5.0)


def test_signals_that_come_at_once_are_heard_one_after_another():
    renderer = Renderer(RATE_HZ, 100)
    for notes in (BEGIN, END):
        renderer.ring(notes)
    heard = np.concatenate([renderer.render(BLOCK) for _ in range(100)]).astype(float)
    assert notes_in(heard) == pytest.approx([n.pitch_hz for n in BEGIN + END], abs=5.0)


def test_a_countdown_that_is_given_up_stops_ticking_and_one_begun_again_ticks_anew():
    def told(t):
        if t < 1.2:
            left = 5.0 - t
        elif t < 2.0:
            return (None, None)
        else:
            left = 5.0 - (t - 2.0)
        return (None, CountdownState(left, math.ceil(left), False))

    times = beats_s(render(4.5, told), 0.3)
    assert times == pytest.approx([0.01, 1.01, 2.01, 3.01, 4.01], abs=0.03)


@pytest.mark.parametrize("how", ["paused", "holding", "gave_up"])
def test_a_timer_that_waits_does_not_tick(how):
    samples = render(
        4.0, lambda t: (None, CountdownState(9.0 - t, 9 - int(t), False, **{how: True}))
    )
    assert np.abs(samples).max() == 0.0


def test_without_a_picture_taken_there_is_no_taken_sound():
    samples = render(4.0, counting(1.0, until_fired=False))
    assert np.abs(samples[round(1.6 * RATE_HZ) :]).max() == 0.0


# -- level ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("volume", "dbfs"), [(100, -6.0), (50, -18.04), (25, -30.08), (10, -46.0)])
def test_volume_in_level(volume, dbfs):
    assert level.peak_dbfs(volume) == pytest.approx(dbfs, abs=0.01)


@pytest.mark.parametrize("volume", [100, 70, 30])
def test_nothing_is_ever_above_the_level_of_the_volume_whatever_sounds_at_once(volume):
    actions = [(Action.FORWARD, 0.8), (Action.BACK, -0.6), (Action.HOLD, 0.0),
               (Action.NOT_SURE, 0.7), (Action.FORWARD, 3.0)]  # fmt: skip

    def told(t):
        left = max(0.0, 4.0 - t)
        return (
            cue(*actions[int(t / 0.07) % len(actions)]),
            CountdownState(left, math.ceil(left), left == 0.0),
        )

    peak = np.abs(render(6.0, told, volume)).max()
    assert 20 * math.log10(peak) <= level.peak_dbfs(volume) + 1e-6
    assert 20 * math.log10(peak) > level.peak_dbfs(volume) - 0.5


def test_volume_0_is_silence():
    assert np.abs(steadily(Action.HOLD, 0.0, volume=0)).max() == 0.0


@pytest.mark.parametrize("percent", [-1, 101])
def test_a_volume_out_of_range_is_the_users_mistake(percent):
    with pytest.raises(UserError, match="from 0 to 100"):
        level.check_volume(percent)


@pytest.mark.parametrize("block", [64, 480, 1024])
def test_no_clicks_anywhere(block):
    """A click is a jump; between two samples a tone of 1500 Hz and its overtones can move by at
    most the sum of their amplitudes times 2 pi f / rate."""
    actions = [
        (Action.FORWARD, 0.8),
        (Action.HOLD, 0.0),
        (Action.BACK, -2.6),
        (Action.NO_ONE, None),
    ]

    def told(t):
        if 2.0 < t < 3.0:
            return None
        left = max(0.0, 3.7 - t)
        return (
            cue(*actions[int(t / 0.23) % len(actions)]),
            CountdownState(left, math.ceil(left), left == 0.0),
        )

    samples = render(5.0, told, block=block)
    steepest = level.amplitude(level.CAP_DBFS) * (2 * math.pi * 1500 / RATE_HZ) * (1 + 0.5 + 0.36)
    assert np.abs(np.diff(samples)).max() < steepest


def test_something_else_to_be_heard_lowers_the_tones_smoothly():
    talking = {"now": False}
    renderer = Renderer(RATE_HZ, 100, hushed=lambda: talking["now"])
    blocks = []
    for n in range(200):
        talking["now"] = 100 <= n < 150
        renderer.tell(cue(Action.HOLD, 0.0), None)
        blocks.append(renderer.render(BLOCK))
    samples = np.concatenate(blocks)
    before, during, after = (samples[k * RATE_HZ // 100 :][:9600] for k in (70, 120, 170))
    assert 20 * math.log10(during.std() / before.std()) == pytest.approx(
        20 * math.log10(BESIDE), abs=0.2
    )
    assert after.std() == pytest.approx(before.std(), rel=0.01)
    assert np.abs(np.diff(samples)).max() < 0.05


# -- files and devices ---------------------------------------------------------------------------


def test_the_file_is_what_was_rendered(tmp_path):
    samples = steadily(Action.FORWARD, 1.5, 1.0).astype(np.float32)
    wav.write(tmp_path / "one.wav", samples, RATE_HZ)
    rate_hz, read = wavfile.read(tmp_path / "one.wav")
    assert rate_hz == RATE_HZ
    assert read / 32767 == pytest.approx(samples, abs=0.51 / 32767)


class Device:
    def __init__(self):
        self.alive, self.closed, self.render = True, 0, None

    def open(self, render, rate_hz):
        self.render = render
        return self

    def close(self):
        self.closed += 1


NOW_HEARD = message_of(guidance_of(Action.HOLD, 0.0))


def test_the_device_gets_the_sound_of_what_was_heard():
    device, notes = Device(), []
    tones = Tones(ZONE, notes.append, 100, rate_hz=lambda: RATE_HZ, open_stream=device.open)
    tones.hear(NOW_HEARD)
    assert pitch_hz(device.render(12000)) == pytest.approx(600.0, abs=1.0)
    tones.close()
    tones.close()
    assert device.closed == 1
    assert notes == []


def test_no_device_is_noted_once_and_the_run_goes_on():
    def none():
        raise NoSoundError("no output device")

    notes = []
    tones = Tones(ZONE, notes.append, rate_hz=none)
    for _ in range(5):
        tones.hear(NOW_HEARD)
    tones.close()
    assert notes == ["no sound: no output device; the run goes on without"]


def notes_in(samples):
    """The pitches that sound, one after another."""
    pieces = samples[: round(NOTE_S * RATE_HZ) * (len(samples) // round(NOTE_S * RATE_HZ))]
    pieces = pieces.reshape(-1, round(NOTE_S * RATE_HZ))
    return [pitch_hz(piece) for piece in pieces if np.abs(piece).max() > 0]


@pytest.mark.parametrize("volume", [100, 30])
def test_begin_and_end_are_two_notes_up_and_two_down_at_the_capped_level(volume):
    device, notes = Device(), []
    signals = Signals(notes.append, volume, rate_hz=lambda: RATE_HZ, open_stream=device.open)
    assert np.abs(device.render(RATE_HZ)).max() == 0.0
    heard = []
    for ring in (signals.begin, signals.end):
        ring()
        heard.append(device.render(RATE_HZ).astype(float))
        wanted = [note.pitch_hz for note in (BEGIN if len(heard) == 1 else END)]
        assert notes_in(heard[-1]) == pytest.approx(wanted, abs=5.0)
        assert np.abs(heard[-1]).max() <= level.amplitude(level.peak_dbfs(volume))
        assert np.abs(device.render(RATE_HZ)).max() == 0.0
    signals.close()
    signals.close()
    assert device.closed == 1
    assert notes == []


def test_signals_without_a_device_are_noted_once():
    def none():
        raise NoSoundError("no output device")

    notes = []
    with Signals(notes.append, rate_hz=none) as signals:
        signals.begin()
        signals.end()
    assert notes == ["no sound: no output device; watch the screen"]


def test_the_last_signal_is_heard_to_its_end():
    device = Device()
    with Signals(print, rate_hz=lambda: RATE_HZ, open_stream=device.open) as signals:
        signals.end()
        began_s = time.monotonic()
    assert time.monotonic() - began_s >= NOTE_S * len(END)


def test_a_device_that_goes_is_noted_once_and_closed():
    device, notes = Device(), []
    tones = Tones(ZONE, notes.append, rate_hz=lambda: RATE_HZ, open_stream=device.open)
    tones.hear(NOW_HEARD)
    device.alive = False
    for _ in range(5):
        tones.hear(NOW_HEARD)
    assert notes == ["no sound: the device has gone; the run goes on without"]
    for _ in range(100):  # a driver may take its time, and nothing waits for it
        if device.closed:
            break
        time.sleep(0.01)
    assert device.closed == 1


def test_a_kind_is_told_apart_by_rhythm_as_well_as_by_pitch():
    assert len({k.value for k in Kind}) == len(Kind)
    single, double = steadily(Action.FORWARD, 1.5), steadily(Action.BACK, -1.3)
    single_gaps, double_gaps = (
        np.diff(beats_s(single, 0.01)[:-1]),
        np.diff(beats_s(double, 0.01)[:-1]),
    )
    assert np.ptp(single_gaps) < 0.01
    assert double_gaps.max() > 2 * double_gaps.min()


def test_ticks_go_on_while_the_feed_stalls_and_each_is_heard_once():
    told = counting(5.0)
    samples = render(5.4, lambda t: told(t) if t < 1.8 else None)
    times = beats_s(samples, 0.3)
    assert times == pytest.approx([0.51, 1.51, 2.51, 3.51, 4.51], abs=0.03)
    assert np.abs(samples).max() <= SIGNAL * level.amplitude(level.CAP_DBFS) + 1e-6


def test_the_tour_plays_every_kind_of_sound_and_a_countdown(tmp_path):
    renderer, kinds = Renderer(RATE_HZ, 100), {}
    for stop in tour.stops(Words()):
        samples = np.concatenate(list(tour.play(stop, renderer))).astype(float)
        assert np.abs(samples).max() > 0.01
        assert np.abs(samples[-round(0.3 * RATE_HZ) :]).max() == 0.0
        kind = KINDS[stop.action]
        if stop.aside_m is not None:
            kind = Kind.RIGHT if stop.aside_m < 0 else Kind.LEFT
        kinds[kind] = stop
    assert set(kinds) == {*Kind, None}  # the signals at a mark sound by themselves


def test_the_tour_has_the_signals_that_no_guidance_makes():
    notes = {stop.notes for stop in tour.stops(Words())}
    assert notes == {(), BEGIN, END, NOW, TROUBLE}


def test_the_tour_ends_with_five_ticks_and_taken():
    """What is left when the same stop without a countdown is taken away from it."""
    stop = tour.stops(Words())[-1]
    with_it, without = (
        np.concatenate(list(tour.play(one, Renderer(RATE_HZ, 100)))).astype(float)
        for one in (stop, dataclasses.replace(stop, counts_down=False))
    )
    starts = beats_s(with_it - without, 0.3)
    assert len(starts) == 6
    assert np.diff(starts)[:4] == pytest.approx(1.0, abs=0.03)
