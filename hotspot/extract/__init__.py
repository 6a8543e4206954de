"""Frames + PinMap -> the readings table: a temperature and its standard uncertainty per frame and pin."""
