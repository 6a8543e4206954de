"""Frames -> where each lies against the first one, and PinMap: where each pin lies in the picture."""

from hotspot.locate.placing import place
from hotspot.locate.steady import Steady, steadying
from hotspot.locate.steady_use import laid_back, on_first, posed
from hotspot.locate.to_place import laid_out

__all__ = ["Steady", "laid_back", "laid_out", "on_first", "place", "posed", "steadying"]
