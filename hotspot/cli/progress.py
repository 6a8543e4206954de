"""Progress with the time left, on stderr, only when it is a terminal."""

import sys
import time
from collections.abc import Callable

EVERY_S = 0.2


def teller(quiet: bool, label: str = "frames") -> Callable[[int, int], None] | None:
    """A function for (done, total), or None where nobody would see it."""
    if quiet or not sys.stderr.isatty():
        return None
    started = time.monotonic()
    last = [0.0]

    def tell(done: int, total: int) -> None:
        now = time.monotonic()
        if now - last[0] < EVERY_S and done < total:
            return
        last[0] = now
        left = (now - started) / done * (total - done) if done else 0.0
        minutes, seconds = divmod(round(left), 60)
        sys.stderr.write(f"\r{done} of {total} {label}, about {minutes}:{seconds:02d} left   ")
        if done >= total:
            sys.stderr.write("\r" + " " * 60 + "\r")
        sys.stderr.flush()

    return tell
