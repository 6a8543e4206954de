"""Frames -> PinMap: where each pin lies in the picture."""

from hotspot.locate.placing import place

__all__ = ["place"]
