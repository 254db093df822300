"""The three trained models behind the text reader: find text, read a line, upright or not.

ONNX Runtime runs the model files of the package rapidocr; that package itself is not imported: it
brings network code, costs a second and 35 MB, and fetches what it lacks. What stands before and
after each model (sizes, scaling, the table of signs) follows its configuration, version 3.10.
One thread each, no memory arena: a worker is one job and its memory is limited.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Pixels = NDArray[np.uint8]
    Floats = NDArray[np.float32]

LINE_PX = 48  # the height of a line as the reading model wants it
STEP_PX = 8  # it gives one row of scores for this width
SLICE_PX = (192, 48)  # width and height of a slice for the turn model
_GRID_PX = 32  # sides of a picture for the finding model are multiples of this
_SLICES_AT_ONCE = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Engine:
    """Three loaded models. ``signs``: what each column of ``sign_scores`` stands for; column 0,
    "", is the pause between signs."""

    find: Any = field(repr=False)
    sign: Any = field(repr=False)
    turn: Any = field(repr=False)
    signs: tuple[str, ...] = field(repr=False)

    def text_map(self, pixels: Pixels, long_side: int, *, quarter: bool = False) -> Floats:
        """Where text is: (h, w) from 0 to 1, of the picture made ``long_side`` pixels at most.

        ``pixels``: (H, W, 3) RGB uint8. ``quarter``: the model sees the picture a quarter turn
        clockwise, for it misses much of what runs upwards; the map is as the picture lies. Its
        sides are multiples of 32, so its scale may differ a little along x and y.
        """
        import cv2
        import numpy as np

        ratio = min(1.0, long_side / max(pixels.shape[:2]))
        wide, high = (
            max(_GRID_PX, round(side * ratio / _GRID_PX) * _GRID_PX)
            for side in (pixels.shape[1], pixels.shape[0])
        )
        small = cv2.resize(pixels, (wide, high), interpolation=cv2.INTER_AREA)
        small_rgb = np.rot90(np.asarray(small, np.uint8), -int(quarter))
        seen = np.asarray(self._run(self.find, _as_input([small_rgb]))[0, 0], np.float32)
        return np.ascontiguousarray(np.rot90(seen, int(quarter)))

    def sign_scores(self, line: Pixels) -> Floats:
        """(steps, signs) probabilities of one line of text, (48, W, 3) RGB uint8.

        Step k looks at the 8 pixels from 8 k on, and what lies about them.
        """
        import numpy as np

        return np.asarray(self._run(self.sign, _as_input([line]))[0], np.float32)

    def upside_down(self, slices: Sequence[Pixels]) -> Floats:
        """For each (48, 192, 3) RGB slice of a line the probability that it is upside down."""
        import numpy as np

        parts = [
            self._run(self.turn, _as_input(slices[at : at + _SLICES_AT_ONCE]))[:, 1]
            for at in range(0, len(slices), _SLICES_AT_ONCE)
        ]
        return np.concatenate(parts) if parts else np.zeros(0, np.float32)

    @staticmethod
    def _run(session: Any, given: Floats) -> Any:
        return session.run(None, {session.get_inputs()[0].name: given})[0]


def _as_input(pictures: Sequence[Pixels]) -> Floats:
    """RGB pictures of one size as (n, 3, h, w) BGR from -1 to 1."""
    import numpy as np

    batch = np.stack(pictures)[..., ::-1].transpose(0, 3, 1, 2)
    return np.ascontiguousarray(batch, np.float32) / 127.5 - 1


@cache
def load_engine() -> Engine | None:
    """The models, ready to run, once in a process; None where the extra is not whole."""
    from packet.recognition.extra import missing_packages, model_files

    if missing_packages():
        return None
    sessions = {}
    for task, model in model_files().items():
        data = model.read()
        if data is None:
            return None
        sessions[task] = _session(data)
    signs = sessions["sign"].get_modelmeta().custom_metadata_map["character"].split("\n")
    return Engine(
        find=sessions["find"],
        sign=sessions["sign"],
        turn=sessions["turn"],
        signs=("", *(sign.strip("\r") for sign in signs), " "),
    )


def _session(model: bytes) -> Any:
    import onnxruntime

    runtime: Any = onnxruntime

    options = runtime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.enable_cpu_mem_arena = False
    options.log_severity_level = 4
    return runtime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
