"""The platform's speech engine, run as a program of its own.

No sentence ever passes through a shell: it is one argument of a list, or a line of input.
"""

from __future__ import annotations

import contextlib
import subprocess
from collections.abc import Callable
from typing import Protocol

from assist.base.system import System, here
from assist.base.words import _
from assist.output.sound import level

WORDS_A_MINUTE = 185
"""A little quicker than the engines' usual 175: an instruction must be over before it is old."""
LONGEST_S = 8.0
"""An engine that takes longer for a sentence hangs, and is ended."""


class NoSpeechError(Exception):
    """There is nothing to speak with; the message says why, in one line."""


class Engine(Protocol):
    """Says sentences, one at a time. Used by one thread; `stop` may be called from another."""

    def say(self, sentence: str) -> None:
        """Say it, and return when it is said or stopped. Raises NoSpeechError if it cannot be."""
        ...

    def stop(self) -> None:
        """Break off what is being said, if anything."""
        ...

    def close(self) -> None:
        """Be silent for good; safe to call twice."""
        ...


class ProgramEngine:
    """One run of a program for every sentence. `command` makes its arguments from the sentence.

    `feed`: hand the sentence to its standard input too, for a program that reads it there.
    """

    def __init__(
        self,
        command: Callable[[str], list[str]],
        *,
        feed: bool = False,
        longest_s: float = LONGEST_S,
    ) -> None:
        self._command = command
        self._feed = feed
        self._longest_s = longest_s
        self._running: subprocess.Popen[str] | None = None
        self._closed = False
        self._stopped = False

    def say(self, sentence: str) -> None:
        """Say it, and return when it is said or stopped. Raises NoSpeechError if it cannot be."""
        if self._closed:
            return
        command = self._command(sentence)
        try:
            running = subprocess.Popen(
                command,
                stdin=subprocess.PIPE if self._feed else subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                errors="replace",
            )
        except OSError as error:
            raise NoSpeechError(
                _("{program} does not run: {error}", program=command[0], error=error.strerror)
            ) from error
        self._stopped = False
        self._running = running
        if self._closed:  # closed while it was starting
            self.stop()
        try:
            _out, said = running.communicate(
                sentence + "\n" if self._feed else None, timeout=self._longest_s
            )
        except subprocess.TimeoutExpired as error:
            running.kill()
            running.communicate()
            raise NoSpeechError(_("{program} hangs", program=command[0])) from error
        finally:
            self._running = None
        last = said.strip().splitlines()[-1] if said.strip() else ""
        # espeak-ng without a sound device prints an error and yet ends with 0.
        failed = running.returncode > 0 or last.lower().startswith("error")
        if failed and not self._stopped:
            last = last or _("exit code {code}", code=running.returncode)
            raise NoSpeechError(f"{command[0]}: {last}")

    def stop(self) -> None:
        """Break off what is being said, if anything."""
        running = self._running
        if running is not None:
            self._stopped = True
            with contextlib.suppress(OSError):
                running.terminate()

    def close(self) -> None:
        """Be silent for good; safe to call twice."""
        self._closed = True
        self.stop()


def espeak_command(
    program: str, language: str, volume_percent: float
) -> Callable[[str], list[str]]:
    """Arguments of espeak-ng, or of the older espeak, which shares its options.

    Its amplitude 100 peaks at up to -1.5 dBFS; 56 keeps it under the cap, and it scales linearly.
    """
    part = level.amplitude(level.peak_dbfs(volume_percent) - level.CAP_DBFS)
    amplitude = str(round(56 * part))

    def command(sentence: str) -> list[str]:
        return [program, "-v", language, "-s", str(WORDS_A_MINUTE), "-a", amplitude, "--", sentence]

    return command


def spd_say_command(
    program: str, language: str, volume_percent: float
) -> Callable[[str], list[str]]:
    """Arguments of speech-dispatcher's client; it waits until the sentence is said."""
    volume = str(round(2 * min(max(volume_percent, 0.0), 100.0) - 100))

    def command(sentence: str) -> list[str]:
        return [program, "--wait", "-l", language, "-r", "10", "-i", volume, "--", sentence]

    return command


def mac_command(program: str, voice: str, volume_percent: float) -> Callable[[str], list[str]]:
    """Arguments of macOS's `say`; the volume is an embedded speech command."""
    part = level.amplitude(level.peak_dbfs(volume_percent))
    voices = ["-v", voice] if voice else []

    def command(sentence: str) -> list[str]:
        rate = ["-r", str(WORDS_A_MINUTE)]
        return [program, *voices, *rate, f"[[volm {part:.2f}]] {sentence}"]

    return command


_SAPI = (
    "[Console]::InputEncoding=[Text.Encoding]::UTF8;"
    "Add-Type -AssemblyName System.Speech;"
    "$s=New-Object System.Speech.Synthesis.SpeechSynthesizer;"
    "$s.Rate=1;$s.Volume={volume};"
    "try{{$s.SelectVoiceByHints('NotSet','NotSet',0,'{language}')}}catch{{}};"
    "$s.Speak([Console]::In.ReadLine())"
)

_SAPI_VOICES = (
    "Add-Type -AssemblyName System.Speech;"
    "(New-Object System.Speech.Synthesis.SpeechSynthesizer).GetInstalledVoices().Count"
)


def windows_command(
    program: str, language: str, volume_percent: float
) -> Callable[[str], list[str]]:
    """PowerShell on Windows's own speech interface; the sentence comes by standard input."""
    volume = round(100 * level.amplitude(level.peak_dbfs(volume_percent)))
    culture = {"en": "en-US", "de": "de-DE"}.get(language, language)
    script = _SAPI.format(volume=volume, language=culture)

    def command(_sentence: str) -> list[str]:
        return [program, "-NoProfile", "-NonInteractive", "-Command", script]

    return command


def mac_voice(listing: str, language: str) -> str:
    """The first voice of a language in what `say -v ?` prints; "" for the system's own."""
    for line in listing.splitlines():
        name, _, rest = line.partition(f" {language}_")
        if rest and "#" not in name:
            return name.strip()
    return ""


def find_engine(
    language: str,
    volume_percent: float,
    system: System | None = None,
) -> Engine:
    """The engine of this system. Raises NoSpeechError where there is none."""
    name, program = find_program(system or here())
    if name == "say":
        voice = mac_voice(_said_by([program, "-v", "?"]) or "", language)
        return ProgramEngine(mac_command(program, voice, volume_percent))
    if name == "powershell":
        return ProgramEngine(windows_command(program, language, volume_percent), feed=True)
    if name == "spd-say":
        return ProgramEngine(spd_say_command(program, language, volume_percent))
    return ProgramEngine(espeak_command(program, language, volume_percent))


def find_program(system: System) -> tuple[str, str]:
    """Name and path of the program to speak with. Raises NoSpeechError where there is none."""
    own = {"macos": ("say",), "windows": ("powershell",)}.get(system.kind, ())
    for name in (*own, "espeak-ng", "espeak", "spd-say"):
        if program := system.which(name):
            return name, program
    raise NoSpeechError(_("no speech engine found (Debian and Ubuntu: apt install espeak-ng)"))


def check_voice(name: str, program: str, language: str) -> None:
    """See without a sound whether the program has a voice. Raises NoSpeechError if it has none.

    Speech-dispatcher's client has no way to tell without speaking; it is taken at its word.
    """
    if name == "spd-say":
        return
    ask = {
        "say": [program, "-v", "?"],
        "powershell": [program, "-NoProfile", "-NonInteractive", "-Command", _SAPI_VOICES],
    }.get(name, [program, "-q", "-v", language, "--", "1"])  # -q: say nothing
    said = _said_by(ask)
    if said is None:
        raise NoSpeechError(_("{program} does not run, or hangs", program=name))
    said = said.strip()
    if name in ("say", "powershell"):
        if said in ("", "0"):
            raise NoSpeechError(_("{program} lists no voice", program=name))
    elif said:  # a missing voice is told, and is the only output
        raise NoSpeechError(f"{name}: {said.splitlines()[0]}")


def _said_by(command: list[str]) -> str | None:
    """What a program prints; None when it cannot be run or hangs."""
    try:
        said = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            errors="replace",
            timeout=5,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return None
    return said.stdout
