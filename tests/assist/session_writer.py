"""Appends attempts to a session for ever, as fast as it can; a test kills it. Not a test itself."""

import sys
from pathlib import Path

from assist.session import folder as sessions
from assist.session.folder import Attempt, Session
from assist.setup import set_up


def main(folder):
    chosen = set_up.from_values(
        {"lens": {"focal_length_mm": 35, "f_number": 2, "focus_distance_m": 4}}
    )
    session = Session(Path(folder), chosen)
    moment = sessions.now()
    print("ready", flush=True)
    while True:
        number = session.next_attempt
        session.append(
            Attempt(
                attempt=number, taken_at=moment, feed="x" * 1000, feed_time_s=1.0, verdict="soft",
                distance_m=4.0, standard_deviation_m=0.1, p_in_focus=0.5, to_mark_m=0.0,
                guidance="hold", framing=None, trigger="none", picture=None, set_up={},
            )
        )  # fmt: skip
        print(number, flush=True)


def fork_and_kill(folder, times, seed):
    """Fork a writer, kill it after a random while, and print what it said; `times` times over.

    Forking from one warm process makes two hundred kills a matter of seconds.
    """
    import os
    import random
    import signal
    import time

    chance = random.Random(seed)
    for _ in range(times):
        out, inlet = os.pipe()
        pid = os.fork()
        if pid == 0:
            os.close(out)
            os.dup2(inlet, 1)
            try:
                main(folder)
            finally:
                os._exit(9)
        os.close(inlet)
        with os.fdopen(out) as said:
            assert said.readline() == "ready\n", "the folder was still locked or damaged"
            time.sleep(chance.uniform(0, 0.02))
            os.kill(pid, signal.SIGKILL)
            os.waitpid(pid, 0)
            numbers = [int(line) for line in said.read().split("\n")[:-1] if line]
        print(numbers[-1] if numbers else -1, flush=True)


if __name__ == "__main__":
    fork_and_kill(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
