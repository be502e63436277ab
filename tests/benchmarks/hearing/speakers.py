"""Telling the enrolled butcher from others by voice, on single words of real people: equal error rate.

Run: `python tests/benchmarks/hearing/speakers.py development|test [WHEEL]`. Not in the product; the
table is why. Each speaker of the half with six words or more is enrolled on four; the speaker's other
words are targets, all words of the half's other speakers impostors. As recorded, and laid in noise at
10 dB; both after the shipped denoiser.

"statistics": mean and spread of 19 mel cepstra of the voiced frames, whitened within speakers (trained
on the other half's speakers of one half, see below), cosine. "network": a speaker encoder of three
recurrent layers, 256 wide, trained on thousands of people; its weights (17 MB, Apache-2.0) are read from
WHEEL, the wheel of the package Resemblyzer 0.1.4 as `pip download --no-deps resemblyzer` leaves it, and
run in numpy. In development the statistics are trained on half of the development speakers and
measured on the other half; for the test half they are trained on all development speakers.
"""

from __future__ import annotations

import pickle
import sys
import time
import zipfile
from collections import OrderedDict, defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any

import material
import numpy as np
from backgrounds import Floats
from halves import HALVES, Half
from sound_store import Clip

ENROLLED = 4
_MELS = 40


def mel_bank(points: int, scale: Callable[[Floats], Floats], unscale: Callable[[Floats], Floats]) -> Floats:
    """Triangles of equal area over 0 to 8 kHz, shape (40, points / 2 + 1)."""
    edges = unscale(np.linspace(scale(np.array([0.0]))[0], scale(np.array([8_000.0]))[0], _MELS + 2))
    hz = np.fft.rfftfreq(points, 1 / 16_000)
    up = (hz - edges[:-2, None]) / np.diff(edges)[:-1, None]
    down = (edges[2:, None] - hz) / np.diff(edges)[1:, None]
    return np.asarray(np.maximum(0, np.minimum(up, down)) * (2.0 / (edges[2:] - edges[:-2]))[:, None])


def _slaney(hz: Floats) -> Floats:
    return np.where(hz < 1_000, hz * 3 / 200, 15 + np.log(np.maximum(hz, 1) / 1_000) * 27 / np.log(6.4))


def _unslaney(mel: Floats) -> Floats:
    return np.where(mel < 15, mel * 200 / 3, 1_000 * np.exp((mel - 15) * np.log(6.4) / 27))


BANK = mel_bank(400, _slaney, _unslaney)


def voiced(clip: Clip) -> Floats:
    """The clip where it is within 30 dB of its loudest 10 ms, at -30 dB of full scale."""
    sound = clip.clean / 32768.0
    frames = sound[: len(sound) // 160 * 160].reshape(-1, 160)
    power = np.mean(frames**2, axis=1)
    held = np.convolve(power > power.max() * 1e-3, np.ones(7), "same") > 0
    loud = frames[held].reshape(-1)
    return np.asarray(loud * 10 ** (-30 / 20) / np.sqrt(np.mean(loud**2)))


def mels(sound: Floats) -> Floats:
    """Mel power, 25 ms every 10 ms, shape (frames, 40)."""
    padded = np.pad(sound, 200, mode="reflect")
    frames = np.lib.stride_tricks.sliding_window_view(padded, 400)[::160]
    return np.asarray(np.abs(np.fft.rfft(frames * np.hanning(401)[:-1], axis=1)) ** 2 @ BANK.T)


def statistics(clips: list[Clip]) -> Floats:
    """Mean and spread of the cepstra of each clip, shape (clips, 38)."""
    rows = np.arange(1, 20)[:, None] * (np.arange(_MELS) + 0.5)
    cosine = np.cos(np.pi / _MELS * rows)
    found = []
    for clip in clips:
        cepstra = np.log(mels(voiced(clip)) + 1e-8) @ cosine.T
        found.append(np.concatenate([cepstra.mean(axis=0), cepstra.std(axis=0)]))
    return np.array(found)


class Network:
    """The speaker encoder, in numpy."""

    def __init__(self, wheel: Path) -> None:
        with zipfile.ZipFile(wheel) as file, file.open("resemblyzer/pretrained.pt") as stored:
            self._weights = _read_legacy(stored)

    def embed(self, clips: list[Clip]) -> Floats:
        """One vector of length 1 a clip; short clips are repeated to 1.6 s, as the encoder was trained."""
        inputs = np.stack([mels(np.resize(voiced(clip), 25_600))[:160] for clip in clips]).astype(np.float32)
        weights = self._weights
        layer = inputs
        for number in range(3):
            w_in, w_back = weights[f"lstm.weight_ih_l{number}"], weights[f"lstm.weight_hh_l{number}"]
            bias = weights[f"lstm.bias_ih_l{number}"] + weights[f"lstm.bias_hh_l{number}"]
            hidden = np.zeros((len(clips), 256), np.float32)
            cell = np.zeros_like(hidden)
            out = np.empty((len(clips), layer.shape[1], 256), np.float32)
            for at in range(layer.shape[1]):
                gates = layer[:, at] @ w_in.T + hidden @ w_back.T + bias
                i, f, g, o = np.split(gates, 4, axis=1)
                cell = _sigmoid(f) * cell + _sigmoid(i) * np.tanh(g)
                hidden = _sigmoid(o) * np.tanh(cell)
                out[:, at] = hidden
            layer = out
        raw = np.maximum(0, layer[:, -1] @ weights["linear.weight"].T + weights["linear.bias"])
        return np.asarray(raw / np.linalg.norm(raw, axis=1, keepdims=True))


def _sigmoid(x: Any) -> Any:
    return 1 / (1 + np.exp(-x))


def _read_legacy(file: Any) -> dict[str, Any]:
    """The tensors of a file in torch's format before 1.6: four pickles, then the storages."""
    storages: dict[str, tuple[int, Any]] = {}

    class Reader(pickle.Unpickler):
        def find_class(self, module: str, name: str) -> Any:
            if (module, name) == ("collections", "OrderedDict"):
                return OrderedDict
            if name == "_rebuild_tensor_v2":
                return lambda storage, offset, size, *_: (storage, offset, size)
            return name

        def persistent_load(self, saved: Any) -> Any:
            storages.setdefault(saved[2], (saved[4], None))
            return saved[2]

    state = [Reader(file).load() for _ in range(4)][3]
    for key in pickle.load(file):  # noqa: S301 - a list of strings in a pinned public file
        count = int.from_bytes(file.read(8), "little")
        storages[key] = (count, np.frombuffer(file.read(4 * count), np.float32))
    return {
        name: storages[place[0]][1][place[1] : place[1] + int(np.prod(place[2]))].reshape(place[2])
        for name, place in state["model_state"].items()
        if isinstance(place, tuple)
    }


def whitener(vectors: Floats, speakers: list[str]) -> Callable[[Floats], Floats]:
    """Removes the mean and makes the spread within a speaker the same in all directions."""
    mean = vectors.mean(axis=0)
    by: dict[str, list[int]] = defaultdict(list)
    for number, speaker in enumerate(speakers):
        by[speaker].append(number)
    inner = np.concatenate([vectors[n] - vectors[n].mean(axis=0) for n in by.values() if len(n) > 1])
    spread = np.cov(inner.T) + 1e-2 * np.trace(np.cov(inner.T)) / inner.shape[1] * np.eye(inner.shape[1])
    root = np.linalg.cholesky(np.linalg.inv(spread))
    return lambda rows: np.asarray((rows - mean) @ root)


def equal_error(vectors: Floats, speakers: list[str]) -> tuple[float, float, int, int]:
    """Equal error rate; share of own words refused where 5 % of others pass; targets; impostors."""
    unit = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    names = np.array(speakers)
    own, others = [], []
    for speaker in sorted(set(speakers)):
        mine = np.flatnonzero(names == speaker)
        if len(mine) < 6:
            continue
        drawn = np.random.default_rng(int(speaker, 16)).permutation(mine)
        model = unit[drawn[:ENROLLED]].mean(axis=0)
        own.append(unit[drawn[ENROLLED:]] @ model)
        others.append(unit[names != speaker] @ model)
    good, bad = np.concatenate(own), np.concatenate(others)
    limits = np.unique(np.concatenate([good, bad]))[::7]
    refused = np.array([np.mean(good < limit) for limit in limits])
    passed = np.array([np.mean(bad >= limit) for limit in limits])
    at = int(np.argmin(np.abs(refused - passed)))
    strict = float(np.mean(good < np.quantile(bad, 0.95)))
    return float((refused[at] + passed[at]) / 2), strict, len(good), len(bad)


def clips_of(half: Half, name: str) -> list[Clip]:
    """The half's words as recorded or in noise."""
    if name == "as recorded":
        return material.words(half)
    return material.words_track(half, material.noises(half)["dishes"], 10).clips()


def main() -> None:
    half: Half = HALVES[HALVES.index(sys.argv[1])]  # type: ignore[arg-type]
    network = Network(Path(sys.argv[2])) if len(sys.argv) > 2 else None
    for name in ("as recorded", "dishes 10 dB"):
        clips = clips_of(half, name)
        speakers = [clip.speaker for clip in clips]
        vectors = statistics(clips)
        if half == "development":
            trained = np.array([int(s, 16) // 2 % 2 == 0 for s in speakers])
        else:
            background = material.words("development")
            trained = np.zeros(len(clips), bool)
        if half == "development":
            white = whitener(vectors[trained], [s for s, t in zip(speakers, trained, strict=True) if t])
        else:
            white = whitener(statistics(background), [clip.speaker for clip in background])
        rest = [s for s, t in zip(speakers, trained, strict=True) if not t]
        _print(half, name, "statistics", equal_error(white(vectors[~trained]), rest))
        if network:
            began = time.process_time()
            found = network.embed(clips)
            cost = 1000 * (time.process_time() - began) / len(clips)
            _print(half, name, f"network ({cost:.0f} ms a word)", equal_error(found, speakers))


def _print(half: str, name: str, scorer: str, result: tuple[float, float, int, int]) -> None:
    rate, strict, own, others = result
    print(
        f"{half:12} {name:14} {scorer:24} equal error {100 * rate:5.1f} %   own refused where 5 % of "
        f"others pass {100 * strict:5.1f} %   ({own} own, {others} others)",
        flush=True,
    )


if __name__ == "__main__":
    main()
