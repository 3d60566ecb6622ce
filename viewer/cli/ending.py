"""Ctrl-C, polite kills and closed terminals: the way out, tidy where that is quick, at once in any case."""

import os
import signal
import sys
import time
from threading import Event, Thread

INTERRUPTED = 130
IN_WORDS = "Interrupted; what was not complete was not written."
# Half a second is what a person takes for at once: so long native code may take to come back, and then
# whatever was begun to be removed.
_PATIENCE_S, _TIDYING_S = 0.3, 0.15
TOLD = Event()
"""Set when it has been said that this process was interrupted."""


class Ended(KeyboardInterrupt):
    """The system asks this process to end; what is unfinished is removed on the way out."""


def end_tidily() -> None:
    """Have Ctrl-C, a polite kill and a closed terminal unwind this process, unless they are to be ignored.

    Python answers a signal when its own code runs again. Where compiled code keeps it from that, a library's
    callback loses the answer, or the way out takes long (work in other threads is waited for), another thread
    ends the process: what was being written is as a kill leaves it, and swept up by the next run.
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
    sys.unraisablehook = _hush
    if os.name == "nt":  # its pipes take no signals
        return
    reading, writing = os.pipe()
    os.set_blocking(writing, False)
    signal.set_wakeup_fd(writing, warn_on_full_buffer=False)
    Thread(target=_watch, args=(reading, heard, answered), daemon=True).start()


def _hush(lost: "sys.UnraisableHookArgs") -> None:
    """Say nothing of an interrupt that was lost in a callback; of all else what Python says."""
    if not issubclass(lost.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(lost)


def _watch(reading: int, heard: set[int], answered: Event) -> None:
    """End this process where it has not ended soon after a signal."""
    while (number := os.read(reading, 1)[0]) not in heard:
        pass
    if answered.wait(_PATIENCE_S):
        time.sleep(_TIDYING_S)
    if not TOLD.is_set():
        os.write(2, f"{IN_WORDS}\n".encode())
    os._exit(128 + number)
