"""The README's picture of the guidance screen, made anew: `python -m tests.pictures`.

The shipped clip as a run shows it, a moment after the person has walked past the zone.
"""

from __future__ import annotations

import cv2

from assist.feed.video_file import VideoFileSource
from assist.guidance.countdown import TimerOptions
from assist.guidance.guide import Action
from assist.guidance.message import Message
from assist.output.screen.screen import GuidanceScreen, ScreenOptions
from assist.pose.mediapipe_backend import MediaPipePoseDetector
from assist.run import demo
from assist.run.live import LiveOptions, LiveRun
from assist.setup.set_up import load
from tests.benchmarks.tables import ROOT


class _Camera:
    """Keeps the first messages of the words that are wanted."""

    def __init__(self) -> None:
        self.told: dict[Action, list[Message]] = {}

    def hear(self, message: Message) -> None:
        self.told.setdefault(message.action, []).append(message)

    def close(self) -> None:
        pass


def main() -> None:
    """Make it."""
    samples = demo.sample_folder()
    set_up, camera = load(samples / demo.SET_UP), _Camera()
    with MediaPipePoseDetector() as detector:
        options = LiveOptions(window=False, timer=TimerOptions(demo.TIMER_S))
        source = VideoFileSource(samples / demo.CLIP)
        LiveRun(set_up, source, detector, options, listener=camera).run()
    screen = GuidanceScreen(set_up.focus_zone, ScreenOptions((1280, 720), diagonal_m=0.6))
    shown = []
    for action in (Action.FORWARD, Action.HOLD):
        told = camera.told[action]
        message = told[len(told) // 2]
        screen.draw(message)
        shown.append(cv2.resize(screen.draw(message), (800, 450), interpolation=cv2.INTER_AREA))
    file = ROOT / "samples" / "guidance-screen.jpg"
    cv2.imwrite(str(file), cv2.hconcat(shown), [cv2.IMWRITE_JPEG_QUALITY, 88])


if __name__ == "__main__":
    main()
