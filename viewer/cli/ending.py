"""Ctrl-C, polite kills and closed terminals: the way out, tidy where that is quick, at once in any case."""

import os
import signal
from threading import Event, Thread

INTERRUPTED = 130
IN_WORDS = "Interrupted; what was not complete was not written."
_PATIENCE_S = 0.3  # for native code to come back: half a second is what a person takes for at once


class Ended(KeyboardInterrupt):
    """The system asks this process to end; what is unfinished is removed on the way out."""


def end_tidily() -> None:
    """Have Ctrl-C, a polite kill and a closed terminal unwind this process, unless they are to be ignored.

    Python answers a signal when its own code runs again. Where compiled code keeps it from that, another
    thread ends the process: what was being written is as a kill leaves it, and swept up by the next run.
    """
    answered = Event()

    def unwind(number: int, _frame: object) -> None:
        answered.set()
        raise KeyboardInterrupt if number == signal.SIGINT else Ended(number)

    heard = set()
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, unwind)
            heard.add(number)
    if os.name == "nt":  # its pipes take no signals
        return
    reading, writing = os.pipe()
    os.set_blocking(writing, False)
    signal.set_wakeup_fd(writing, warn_on_full_buffer=False)
    Thread(target=_watch, args=(reading, heard, answered), daemon=True).start()


def _watch(reading: int, heard: set[int], answered: Event) -> None:
    """End this process where a signal that came is not answered soon."""
    while True:
        number = os.read(reading, 1)[0]
        if number in heard and not answered.wait(_PATIENCE_S):
            os.write(2, f"{IN_WORDS}\n".encode())
            os._exit(128 + number)
