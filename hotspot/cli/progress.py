"""Progress with the time left, on stderr, only when it is a terminal."""

import sys
import time
from collections.abc import Callable

EVERY_S = 0.2
_WIDTH = 60


def teller(quiet: bool, label: str = "frames") -> Callable[[int, int], None] | None:
    """A function for (done, total), or None where nobody would see it.

    0 done says that frames are looked at beforehand; a count that falls back begins another pass over them, with a
    clock of its own.
    """
    if quiet or not sys.stderr.isatty():
        return None
    started, last, before = time.monotonic(), 0.0, 0

    def tell(done: int, total: int) -> None:
        nonlocal started, last, before
        now = time.monotonic()
        again = done < before or before == 0
        started, before = (now if again else started), done
        if now - last < EVERY_S and done < total and not again:
            return
        last = now
        if done == 0:
            words = f"looking at some of {total} {label} first"
        else:
            minutes, seconds = divmod(round((now - started) / done * (total - done)), 60)
            words = f"{done} of {total} {label}, about {minutes}:{seconds:02d} left"
        sys.stderr.write("\r" + words.ljust(_WIDTH))
        if done >= total:
            sys.stderr.write("\r" + " " * _WIDTH + "\r")
        sys.stderr.flush()

    return tell
