"""Frames + PinMap -> the readings table: a temperature and its standard uncertainty per frame and pin."""

from hotspot.extract.readings import measure
from hotspot.extract.rise_pictures import RiseWatch

__all__ = ["RiseWatch", "measure"]
