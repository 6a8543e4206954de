"""Frames -> PinMap: where each pin lies in the picture."""
