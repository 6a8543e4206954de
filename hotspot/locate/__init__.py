"""Frames -> where each lies against the first one, and PinMap: where each pin lies in the picture."""

from hotspot.locate.placing import place
from hotspot.locate.steady import Steady, steadying
from hotspot.locate.steady_use import laid_back, on_first, posed

__all__ = ["Steady", "laid_back", "on_first", "place", "posed", "steadying"]
