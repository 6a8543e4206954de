"""Files -> a stream of Frames in time order, one in memory at a time. Only this room opens frames."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hotspot.read.recording import open_recording

__all__ = ["open_recording"]


def __getattr__(name: str) -> object:
    """Load what opens frames when it is first used: the commands must answer without NumPy."""
    if name == "open_recording":
        from hotspot.read.recording import open_recording

        return open_recording
    raise AttributeError(f"module 'hotspot.read' has no attribute {name!r}")
