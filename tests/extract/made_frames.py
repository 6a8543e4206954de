"""Frames made from arrays, for the tests of locate and extract: no carrier, no reader."""

import numpy as np

from hotspot.records import Frame, PinMap
from hotspot.session import Region, Session


class ArrayPixels:
    """Values, doubt bits and reading uncertainty of whole frames; counts how it is asked."""

    def __init__(self, celsius, bits=0, reading_k=0.0):
        self.values = np.asarray(celsius, dtype=float)
        self.bits = np.broadcast_to(np.asarray(bits, dtype=np.uint32), self.values.shape)
        self.reading = np.broadcast_to(np.asarray(reading_k, dtype=float), self.values.shape)
        self.asked = []

    @property
    def shape(self):
        return self.values.shape

    def at(self, rows, columns):
        self.asked.append(len(rows))
        return self.values[rows, columns], self.bits[rows, columns], self.reading[rows, columns]

    def grey(self, rows=None, columns=None):
        values = self.values if rows is None else self.values[rows, columns]
        return values.astype(np.float32)

    def picture(self):
        return None


def frames_of(pictures, every_s=10.0, **pixels):
    return [
        Frame(index, f"f{index:04d}.tif", index * every_s, ArrayPixels(picture, **pixels))
        for index, picture in enumerate(pictures)
    ]


def pins_at(*places, radius=5.0, regions=(), placed="given"):
    x, y = (np.array(axis, dtype=float) for axis in zip(*places, strict=True))
    names = tuple(str(number + 1) for number in range(len(places)))
    return PinMap(names, x, y, np.full(x.size, float(radius)), (placed,) * x.size, tuple(regions))


def session_of(**tables):
    return Session.model_validate(tables)


def region(name, kind, box):
    return Region(name=name, kind=kind, box=list(map(float, box)))
