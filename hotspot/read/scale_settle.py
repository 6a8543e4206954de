"""Numbers left in doubt by their print, settled by the scene: of all that may be printed, only one goes on from it.

The print says which digits a character looks like; what does not warm in the picture foretells the end from the frames
around. Where one reading fits both, and every other one is far off, the number is known.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np

from hotspot.read.scale_alphabet import UNKNOWN, Guess, Key
from hotspot.read.scale_scene import Scene, foretold, known_ends, step_of

_NUMBER = re.compile(r"-?(0|[1-9]\d*)(\.\d+)?")
# Doubts of the foretold end: what is read lies within, any other that the print looks like, and that it does not look
# like, beyond.
_FITS, _FAR, _UNLIKELY = 1.0, 3.0, 1.5
_MOST_UNKNOWN = 2  # characters of one number
_ROUNDS = 6  # what is settled foretells its neighbours better
_DIGITS = "0123456789"


def settled(
    numbers: Mapping[Key, tuple[str, str]],
    guesses: Mapping[Key, list[Guess]],
    scene: Scene,
    typed: Mapping[int, tuple[str, str]],
) -> dict[Key, tuple[str, str]]:
    """The numbers (text, why in doubt), those without doubt that the scene settles. `guesses` of every way in which a
    number was read.
    """
    out = dict(numbers)
    for _ in range(_ROUNDS):
        doubtful = [key for key, (_, why) in out.items() if why and key[0] not in typed and guesses.get(key)]
        if not doubtful:
            break
        ends, doubts = foretold(scene, known_ends(out, typed, len(scene)), step_of(typed))
        told = {key: _told(guesses[key], ends[key], doubts[key]) for key in doubtful}
        if not any(told.values()):
            break
        out |= {key: (text, "") for key, text in told.items() if text}
    return out


def _told(guesses: list[Guess], end: float, doubt: float) -> str:
    """The only reading that fits; empty where none does, or another may."""
    if not np.isfinite(end) or not np.isfinite(doubt):
        return ""
    off = {text: abs(float(text) - end) / doubt for guess in guesses for text in _readings(guess, guess.like)}
    fitting = [text for text, away in off.items() if away <= _FITS]
    if len(fitting) != 1 or any(away <= _FAR for text, away in off.items() if text not in fitting):
        return ""
    unlikely = {text for guess in guesses for text in _readings(guess, _not_ruled_out(guess))} - set(off)
    return fitting[0] if all(abs(float(text) - end) > _UNLIKELY * doubt for text in unlikely) else ""


def _not_ruled_out(guess: Guess) -> list[str]:
    """The digits that may stand at every place, however unlike them the print is."""
    apart = guess.ruled_out or ("",) * len(guess.text)
    return ["".join(digit for digit in _DIGITS if digit not in each) for each in apart]


def _readings(guess: Guess, choices: Sequence[str]) -> list[str]:
    """All that may be printed with `choices` of digits where a character is not known. A first one may be a minus, or
    no character; none where too many are not known.
    """
    if guess.text.count(UNKNOWN) > _MOST_UNKNOWN:
        return []
    signs = [tuple(choices[k]) if sign == UNKNOWN else (sign,) for k, sign in enumerate(guess.text)]
    if guess.text.startswith(UNKNOWN):
        signs[0] = (*signs[0], "-", "")
    return [text for text in map("".join, product(*signs)) if _NUMBER.fullmatch(text)]
