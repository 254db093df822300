"""From the reading model's scores, step by step, to scores of each place of a line of known length.

The model scores what it sees in narrow steps (connectionist temporal classification: Graves et
al., ICML 2006). A machine-readable line has an exact number of places, evenly spaced (OCR-B is a
face of one pitch), and at each place only some signs may stand. The forward-backward rule gives
the probability of every sign at every place over all ways to spread the line over the steps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from numpy.typing import NDArray

from packet.rules.mrz_format import SIGNS

Scores = NDArray[np.float64]
PAUSE = len(SIGNS)  # the column of the pause between signs

# What the model answers for a sign in capitals of one face: other alphabets, small letters.
_SAME = {
    "<": "‹〈＜«《く≤",
    **{sign: sign.lower() for sign in SIGNS[10:36]},
    "A": "aΑА", "B": "bΒВß", "C": "cСϹ", "E": "eΕЕ", "H": "hΗН", "I": "iΙІ|ı", "J": "jЈ",
    "K": "kΚКк", "M": "mΜМм", "N": "nΝ", "O": "oΟОоＯ", "P": "pΡРр", "S": "sЅ", "T": "tΤТт",
    "X": "xΧХх", "Y": "yΥУ", "Z": "zΖ", "0": "〇", "1": "l",
}  # fmt: skip
# Pairs that look so alike that what is seen as the one may well be the other: how much, of 1.
# Set on drawn lines; the check digits decide between them.
_ALIKE = {"0O": 0.05, "1I": 0.03, "5S": 0.01, "8B": 0.01, "2Z": 0.01, "6G": 0.01, "DO": 0.004,
          "QO": 0.01, "0D": 0.004, "0Q": 0.004}  # fmt: skip
_FLOOR = 2e-4  # the model is surer than it may be: nothing is quite impossible
_NO_WAY = -600.0  # natural logarithm: the line cannot be spread over the steps
_LOOSE, _TIGHT = 0.45, 0.22  # how far a sign may lie from its place, in places (standard deviation)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """A line laid over the steps. ``scores``: (places, 37) natural logarithms of probabilities;
    ``likelihood``: per place, of the whole line; ``first``, ``pitch``: of the places, in steps."""

    scores: Scores = field(repr=False)
    likelihood: float
    first: float
    pitch: float


@cache
def _may_be() -> Scores:
    """(seen, meant): how much of what is seen as a sign counts for another."""
    mixed = np.eye(PAUSE)
    for pair, share in _ALIKE.items():
        a, b = SIGNS.index(pair[0]), SIGNS.index(pair[1])
        mixed[a, b] = mixed[b, a] = share
    return mixed


def columns_of(signs: Sequence[str]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """(columns of the model, sign of each of them), and the columns of pauses last."""
    number = {sign: column for column, sign in enumerate(signs)}
    columns, of = [], []
    for place, sign in enumerate(SIGNS):
        for form in sign + _SAME.get(sign, ""):
            if form in number:
                columns.append(number[form])
                of.append(place)
    for pause in ("", " "):
        columns.append(number[pause])
        of.append(PAUSE)
    return np.array(columns), np.array(of)


def narrowed(
    scores: NDArray[np.float32], columns: NDArray[np.int64], of: NDArray[np.int64]
) -> Scores:
    """(steps, 38): what the model says of the 37 signs and the pause."""
    low = np.zeros((len(scores), PAUSE + 1))
    np.add.at(low.T, of, scores[:, columns].T.astype(np.float64))
    low[:, :PAUSE] = low[:, :PAUSE] @ _may_be()
    return low


def place_signs(seen: Scores, allowed: NDArray[np.bool_], *, first: float, last: float) -> Placed:
    """Scores of the signs at each place.

    ``seen``: (steps, 38); ``allowed``: (places, 37); ``first`` and ``last``: where the middle of
    the first and the last sign should lie, in steps. Their spacing is measured anew once.
    """
    pitch = (last - first) / (len(allowed) - 1)
    loose = _Pass(seen, allowed, first, pitch, _LOOSE)
    if loose.likelihood < _NO_WAY:
        return Placed(
            scores=loose.signs(),
            likelihood=loose.likelihood / len(allowed),
            first=first,
            pitch=pitch,
        )
    when, weight = loose.times()
    places = np.arange(len(allowed))
    pitch, first = np.polyfit(places, when, 1, w=np.sqrt(weight))
    tight = _Pass(seen, allowed, float(first), float(pitch), _TIGHT)
    return Placed(
        scores=tight.signs(),
        likelihood=tight.likelihood / len(allowed),
        first=float(first),
        pitch=float(pitch),
    )


def seen_against(seen: Scores, allowed: NDArray[np.bool_], placed: Placed) -> float:
    """By how much, at the worst place, a sign that may not stand there is likelier than those that
    may, in natural logarithms: what the grammar alone would hide. Arguments as ``place_signs``."""
    free = _Pass(seen, np.ones_like(allowed), placed.first, placed.pitch, _TIGHT).signs()
    right = np.where(allowed, free, -np.inf).max(1)
    other = np.where(allowed, -np.inf, free).max(1)
    return float((other - right).max())


class _Pass:
    """One forward-backward pass; state (place, sign), and a pause before each place and the end."""

    def __init__(
        self, seen: Scores, allowed: NDArray[np.bool_], first: float, pitch: float, loose: float
    ) -> None:
        steps, places = len(seen), len(allowed)
        away = (np.arange(steps)[:, None] - first - pitch * np.arange(places)) / pitch
        near = np.exp(-0.5 * (away / loose) ** 2) + 1e-9
        signs = seen[:, :PAUSE] + _FLOOR
        pause = seen[:, PAUSE] + _FLOOR
        self.entering = np.zeros((steps, places, PAUSE))
        alpha = np.zeros((steps, places, PAUSE))
        rest = np.zeros((steps, places + 1))
        scale = np.zeros(steps)
        emit = signs[:, None, :] * near[:, :, None] * allowed
        held, idle = np.zeros((places, PAUSE)), np.zeros(places + 1)
        idle[0] = 1.0
        for step in range(steps):
            total = held.sum(1)
            come = np.empty((places, PAUSE))
            come[0] = idle[0]
            come[1:] = idle[1:places, None] + (total[:-1, None] - held[:-1])
            come *= emit[step]
            after = idle.copy()
            after[1:] += total
            held = held * emit[step] + come
            idle = after * pause[step]
            scale[step] = held.sum() + idle.sum()
            held /= scale[step]
            idle /= scale[step]
            self.entering[step] = come / scale[step]
            alpha[step], rest[step] = held, idle
        end = held[-1].sum() + idle[-1]
        self.likelihood = float(np.log(scale).sum() + np.log(max(end, 1e-300)))
        self._back(emit, pause, scale)

    def _back(self, emit: Scores, pause: Scores, scale: Scores) -> None:
        """Turn ``entering`` into the probability that a sign begins at a step."""
        steps, places, _ = emit.shape
        held, idle = np.zeros((places, PAUSE)), np.zeros(places + 1)
        held[-1] = 1.0
        idle[-1] = 1.0
        for step in range(steps - 1, -1, -1):
            self.entering[step] *= held
            out = emit[step] * held
            rest = pause[step] * idle
            total = out.sum(1)
            new_idle = rest.copy()
            new_idle[:-1] += total
            new_held = out + rest[1:, None]
            new_held[:-1] += total[1:, None] - out[1:]
            held, idle = new_held / scale[step], new_idle / scale[step]

    def signs(self) -> Scores:
        """(places, 37) logarithms; all alike at a place that no sign can be at."""
        total = self.entering.sum(0)
        share = total / np.maximum(total.sum(1, keepdims=True), 1e-300)
        return np.asarray(np.log(share + 1e-12), np.float64)

    def times(self) -> tuple[Scores, Scores]:
        """(mean step at which each place begins, how surely)."""
        chance = self.entering.sum(2)
        total = chance.sum(0)
        steps = np.arange(len(chance))
        when = (chance * steps[:, None]).sum(0) / np.maximum(total, 1e-12)
        spread = (chance * (steps[:, None] - when) ** 2).sum(0) / np.maximum(total, 1e-12)
        return when, 1 / (0.5 + spread)
