"""The grammar of names and numbers in machine-readable lines (ICAO Doc 9303 part 3).

Names: parts of the surname with one filler between, two fillers, parts of the given names, then
fillers to the end of the field. Numbers: fillers at their end only.
"""

from __future__ import annotations

import numpy as np

from packet.recognition.sign_scores import Scores
from packet.rules.mrz_format import SIGNS

_FILLER = SIGNS.index("<")
_LETTERS = slice(10, 36)

# What was read -> what a letter leads to, what a filler leads to; None where it may not stand.
_NEXT: dict[str, tuple[str | None, str | None]] = {
    "start": ("surname", None),
    "surname": ("surname", "gap"),
    "gap": ("surname", "gap two"),
    "gap two": ("given", "end"),
    "given": ("given", "given gap"),
    "given gap": ("given", "end"),
    "end": (None, "end"),
}


def likeliest_names(scores: Scores) -> str:
    """The likeliest names of a field of (places, 37) log probabilities."""
    letter = 10 + scores[:, _LETTERS].argmax(1)
    best: dict[str, tuple[float, str]] = {"start": (0.0, "")}
    for place, row in enumerate(scores):
        new: dict[str, tuple[float, str]] = {}
        for state, (cost, text) in best.items():
            for target, column in zip(_NEXT[state], (int(letter[place]), _FILLER), strict=True):
                if target is None:
                    continue
                rated = cost + float(row[column])
                if target not in new or rated > new[target][0]:
                    new[target] = rated, text + SIGNS[column]
        best = new
    return max(best.values())[1]


def without_inner_fillers(scores: Scores) -> str:
    """The likeliest signs of a number: fillers only behind its last sign."""
    signs = scores[:, :_FILLER].max(1)
    which = scores[:, :_FILLER].argmax(1)
    places = len(scores)
    ends = [float(signs[:end].sum() + scores[end:, _FILLER].sum()) for end in range(1, places + 1)]
    end = 1 + int(np.argmax(ends))
    return "".join(SIGNS[column] for column in which[:end]) + "<" * (places - end)
