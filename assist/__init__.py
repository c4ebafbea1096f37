"""Everything that touches a camera, a picture, a screen, a loudspeaker or a file.

The data flows one way:
feed -> frame -> pose -> body -> distance -> verdict -> guidance -> overlay, sound, trigger, record.
"""

import os

__version__ = "0.1.0"

# The distance fit solves small systems, thousands of times a minute. Splitting one over threads
# costs far more than it gains: 1.6 ms became 260 ms beside a busy pose network, and half of a
# review's processor time went into waiting. Must come before NumPy is first imported; a user's own
# choice goes first.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# OpenCV, and FFmpeg inside it, write to the terminal by themselves unless told not to before the
# first import; our own message says what is wrong.
os.environ.setdefault("OPENCV_LOG_LEVEL", "OFF")
os.environ.setdefault("OPENCV_FFMPEG_LOGLEVEL", "-8")
