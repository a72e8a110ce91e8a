"""While libraries load in the other thread the window goes on: the collector waits, then forgets them."""

import gc
import threading
from dataclasses import dataclass

from trainer.desktop import program
from trainer.desktop.performer import InThread
from trainer.desktop.work import Effect


@dataclass(frozen=True)
class Job(Effect):
    """A piece of work that may fall over."""

    falls: bool = False

    def run(self, services):
        if self.falls:
            raise KeyError("unforeseen")
        return 7


def test_each_piece_of_work_is_told_when_it_is_done_even_one_that_falls_over():
    told, woken = [], threading.Semaphore(0)
    performer = InThread(None, woken.release, told.append)
    performer.start([Job(), Job(falls=True)])
    assert woken.acquire(timeout=5)
    assert woken.acquire(timeout=5)
    performer.close()
    assert told == ["job", "job"]


def test_the_collector_works_again_once_everything_is_loaded_and_looks_at_none_of_it():
    gc.disable()
    try:
        program._loaded("loadpeople")
        assert not gc.isenabled()
        program._loaded("warm")
        assert gc.isenabled()
        assert gc.get_freeze_count() > 0
    finally:
        gc.unfreeze()
        gc.enable()
