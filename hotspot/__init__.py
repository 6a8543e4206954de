"""hotspot: which pin of a connector makes the heat, from thermal frames of a load test.

The map, in the order in which a test is worked through::

    session.py    what a person says about one test (the keys of session.toml)
    read/         files -> a stream of Frames in time order; the clock; colours to temperature
    locate/       Frames -> PinMap: where the pins are
    extract/      Frame + PinMap -> the readings table: temperature and uncertainty per pin
    reason/       readings -> findings: rise, peers, verdicts, before and after
    tell/         findings -> words, charts, tables, one report file
    pipeline/     analyse() and compare(): the only code that knows this order

Beside them: ``records.py`` (what passes between the rooms), ``doubts.py`` (why a number may be
doubted), ``errors.py``, ``units.py``, ``physics/`` (equations), ``handbook/`` (numbers with their
sources), ``synthetic/`` (connectors with known truth), ``cli/`` (the commands).
"""

from typing import TYPE_CHECKING

from hotspot.version import __version__

if TYPE_CHECKING:
    from hotspot.pipeline import analyse, compare
    from hotspot.session import Session

__all__ = ["Session", "__version__", "analyse", "compare"]

_HOME = {"Session": "hotspot.session", "analyse": "hotspot.pipeline", "compare": "hotspot.pipeline"}


def __getattr__(name: str) -> object:
    """Load the public names when they are first used, so that ``hotspot --help`` stays quick."""
    if name in _HOME:
        from importlib import import_module

        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'hotspot' has no attribute {name!r}")
