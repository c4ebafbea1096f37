"""Which core which thread is put on; and that a run's result does not depend on it."""

import os
import subprocess
import sys
import threading
import time

import pytest

from assist.base.system import cores
from assist.run.live import LiveOptions, LiveRun
from tests.assist.footage import SET_UP, BlankSource, PlacedDetector

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="Linux only")


@pytest.fixture
def two_cores():
    """The process with two cores, as it may have had them all along."""
    allowed = os.sched_getaffinity(0)
    if len(allowed) < 2:
        pytest.skip("one core only")
    two = set(sorted(allowed)[:2])
    for thread in cores.own_threads():
        os.sched_setaffinity(thread, two)
    yield sorted(two)
    for thread in cores.own_threads():
        os.sched_setaffinity(thread, allowed)


@pytest.fixture
def network():
    """The number of a thread that stands for the network's."""
    over, numbers = threading.Event(), []

    def work():
        numbers.append(threading.get_native_id())
        over.wait(30)

    thread = threading.Thread(target=work)
    thread.start()
    while not numbers:
        time.sleep(0.001)
    yield numbers[0]
    over.set()
    thread.join()


def test_the_network_gets_a_core_of_its_own_and_all_is_as_before_afterwards(two_cores, network):
    first, last = two_cores
    with cores.apart([network]):
        assert os.sched_getaffinity(network) == {last}
        assert os.sched_getaffinity(0) == {first}
    assert os.sched_getaffinity(network) == os.sched_getaffinity(0) == {first, last}


def test_with_one_core_or_many_nothing_is_moved():
    script = (
        "import os; from assist.base.system import cores\n"
        "os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:1])\n"
        "before = os.sched_getaffinity(0)\n"
        "with cores.apart([os.getpid()]):\n"
        "    assert os.sched_getaffinity(0) == before\n"
    )
    subprocess.run([sys.executable, "-c", script], check=True, timeout=60)


def test_threads_that_have_ended_do_no_harm(two_cores):
    with cores.apart([2**22 + 1]):
        cores.join([2**22 + 1])
        cores.join([])
    assert os.sched_getaffinity(0) == set(two_cores)


class PlacedNetwork(PlacedDetector):
    """Says which threads are its own, and on which core it was called."""

    def __init__(self, threads):
        super().__init__(lambda _: 4.1)
        self.threads = frozenset(threads)
        self.seen_on = set()

    def detect(self, picture, time_s):
        self.seen_on.add(frozenset(os.sched_getaffinity(0)))
        return super().detect(picture, time_s)


def test_the_thread_that_waits_for_the_network_is_on_its_core(two_cores, network):
    moments = {}
    for threads in ((), (network,)):
        detector, told = PlacedNetwork(threads), []
        LiveRun(
            SET_UP, BlankSource(1.0), detector, LiveOptions(window=False), on_moment=told.append
        ).run()
        moments[threads] = [(m.frame.index, m.assessment, m.guidance) for m in told]
    assert detector.seen_on == {frozenset({two_cores[1]})}
    assert moments[()] == moments[(network,)]
    assert len(moments[()]) == 30
