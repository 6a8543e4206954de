"""views.npz of a results folder -> records.View."""

from __future__ import annotations

import math
import zipfile
import zlib
from pathlib import Path

import numpy as np

from hotspot.errors import refuse
from hotspot.views import View

_MEND = "Run hotspot run on the session again."


def load_views(path: Path) -> tuple[View, ...]:
    """The views in the file, by stage; none where there is no such file. Keys: `hotspot.views.VIEWS`.

    Raises InputError where the file is damaged or not one of ours. Nothing pickled is opened.
    """
    if not path.is_file():
        return ()
    try:
        with np.load(path, allow_pickle=False) as held:
            return _views(held)
    except (ValueError, OSError, KeyError, IndexError, TypeError, EOFError, zipfile.BadZipFile, zlib.error) as error:
        why = " ".join(str(error).split())[:80]
        raise refuse(path, "", f"cannot be read as the frames kept of a test ({why})", _MEND) from None


def _views(held: np.lib.npyio.NpzFile) -> tuple[View, ...]:
    stages, files, times, ambients = (held[key] for key in ("stages", "files", "time_s", "ambient_c"))
    pins, places = tuple(map(str, held["pins"])), np.asarray(held["places"], float)
    if places.shape != (len(stages), len(pins), 3) or not len(stages) == len(files) == len(times) == len(ambients):
        raise ValueError("its arrays differ in length")
    found = []
    for number, stage in enumerate(stages):
        celsius = np.asarray(held[f"celsius_{number}"], np.float32)
        if celsius.ndim != 2 or not celsius.size:
            raise ValueError(f"celsius_{number} is no picture")
        ambient = float(ambients[number])
        known = ambient if math.isfinite(ambient) else None
        found.append(View(str(stage), str(files[number]), float(times[number]), celsius, pins, places[number], known))
    return tuple(found)
