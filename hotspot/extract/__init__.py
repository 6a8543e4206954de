"""Frames + PinMap -> the readings table: a temperature and its standard uncertainty per frame and pin."""

from hotspot.extract.readings import measure

__all__ = ["measure"]
