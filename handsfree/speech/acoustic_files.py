"""Reads the embedded engine's acoustic model as figures, and writes moved means. An edge module.

Formats as CMU Sphinx writes them (pocketsphinx: bin_mdef.c, ms_gauden.c, ptm_mgau.c): little-endian;
the means and variances with a text header; the mixture weights as eight-bit logarithms to the base
1.0001 shifted right by ten bits.
"""

from __future__ import annotations

import math
import struct
from pathlib import Path

import numpy as np

from handsfree.errors import ModelError
from handsfree.speech.acoustic_model import CEPSTRA, STREAMS, AcousticModel, Floats

MEANS_FILE = "means"
_ORDER_MARK = 0x11223344
_LOG_STEP = (1 << 10) * math.log(1.0001)
_BAD = "install it again: pip install --force-reinstall pocketsphinx"


def read_acoustic_model(folder: Path) -> AcousticModel:
    """The Gaussians and weights of a phonetically tied model.

    Args:
        folder: Holds `mdef`, `means`, `variances` and `sendump`.

    Raises:
        ModelError: A file is missing, damaged, or of another kind of model.
    """
    try:
        phones, states = _phones((folder / "mdef").read_bytes())
        means = _gaussians((folder / MEANS_FILE).read_bytes())[1]
        variances = _gaussians((folder / "variances").read_bytes())[1]
        weights = _weights((folder / "sendump").read_bytes(), means.shape[2], states)
    except OSError as error:
        raise ModelError(f"the model in {folder} cannot be read: {error}", next_step=_BAD) from error
    except (struct.error, ValueError, UnicodeDecodeError) as error:
        raise ModelError(f"the model in {folder} is damaged ({error})", next_step=_BAD) from error
    if len(phones) != len(means) or means.shape != variances.shape:
        raise ModelError(f"the model in {folder} has not one codebook a phone", next_step=_BAD)
    # The engine's own floor (option varfloor): smaller variances are raised to it when it loads them.
    return AcousticModel(phones, means, np.maximum(variances, 1e-4), weights)


def read_means(file: Path) -> Floats:
    """The means of a file, shape (codebooks, streams, Gaussians, 13).

    Raises:
        ModelError: The file is missing or damaged.
    """
    try:
        return _gaussians(file.read_bytes())[1]
    except (OSError, struct.error, ValueError) as error:
        raise ModelError(
            f"{file} cannot be read ({error})", next_step="work this voice out again from its recordings"
        ) from error


def check_means(file: Path, model: Path) -> None:
    """Make sure that a speaker's means can stand in for the model's own.

    The engine ends the whole program over a file that is damaged, so it is never given one.

    Args:
        file: The speaker's.
        model: The folder of the model it was taught from.

    Raises:
        ModelError: The file is missing, damaged, or was taught from another model.
    """
    own, base = read_means(file), read_means(model / MEANS_FILE)
    # Ours have no checksum; over one that is wrong the engine ends the program as well.
    summed = b"chksum0" in file.read_bytes()[:200]
    if own.shape != base.shape or not np.isfinite(own).all() or summed:
        raise ModelError(
            f"{file} does not fit the embedded recogniser's model",
            next_step="work this voice out again from its recordings",
        )


def means_file(folder: Path, means: Floats) -> bytes:
    """A means file with these means in place of those of the model in `folder`.

    Raises:
        ModelError: The model's own file cannot be read.
    """
    try:
        head, old = _gaussians((folder / MEANS_FILE).read_bytes())
    except (OSError, struct.error, ValueError, UnicodeDecodeError) as error:
        raise ModelError(f"the model in {folder} cannot be read: {error}", next_step=_BAD) from error
    if old.shape != means.shape:
        raise ModelError(f"means of shape {means.shape} do not fit the model in {folder}")
    lines = [line for line in head.splitlines() if not line.startswith("chksum0")]
    text = "\n".join(lines) + "\n"
    shape = struct.pack("<4i", _ORDER_MARK, *means.shape[:3])
    lengths = struct.pack(f"<{STREAMS + 1}i", *[CEPSTRA] * STREAMS, means.size)
    return text.encode("ascii") + shape + lengths + means.astype("<f4").tobytes()


def _gaussians(data: bytes) -> tuple[str, Floats]:
    """The text header, and the figures in shape (codebooks, streams, Gaussians, 13)."""
    end = data.index(b"endhdr\n") + len(b"endhdr\n")
    mark, books, streams, gaussians = struct.unpack_from("<4i", data, end)
    if mark != _ORDER_MARK or streams != STREAMS:
        raise ValueError("not three streams in the byte order of this machine")
    lengths = struct.unpack_from(f"<{streams + 1}i", data, end + 16)
    if lengths[:-1] != (CEPSTRA,) * STREAMS:
        raise ValueError("not thirteen values a stream")
    figures = np.frombuffer(data, "<f4", lengths[-1], end + 16 + 4 * (streams + 1)).astype(np.float64)
    # A checksum of four bytes may follow.
    if len(data) - end - 16 - 4 * (streams + 1) - figures.size * 4 not in (0, 4):
        raise ValueError("more follows than its figures")
    return data[:end].decode("ascii"), figures.reshape(books, streams, gaussians, CEPSTRA)


def _phones(data: bytes) -> tuple[tuple[str, ...], int]:
    """The names of the phones in the order of their codebooks, and the number of states."""
    if data[:4] != b"BMDF":
        raise ValueError("mdef is not in binary form")
    _version, described = struct.unpack_from("<2i", data, 4)
    counts = struct.unpack_from("<10i", data, 12 + described)
    names = data[12 + described + 40 :].split(b"\0", counts[0])[: counts[0]]
    return tuple(name.decode("ascii") for name in names), counts[4]


def _weights(data: bytes, gaussians: int, states: int) -> Floats:
    """Natural logarithms, shape (streams, Gaussians, states)."""
    at = 0
    while True:  # lines of text, each with its length before it, up to an empty one
        (length,) = struct.unpack_from("<i", data, at)
        at += 4 + length
        if length == 0:
            break
        if length < 0 or at > len(data):
            raise ValueError("sendump has no end of its header")
        line = data[at - length : at].split(b"\0")[0].decode("ascii")
        if line.startswith("cluster_count") and line.split()[-1] != "0":
            raise ValueError("sendump has clustered weights")
    wanted = STREAMS * gaussians * states
    body = np.frombuffer(data, np.uint8)[at:]
    # Before the weights may stand the number of rows and columns.
    body = body[len(body) - wanted :] if 0 <= len(body) - wanted <= 8 else body[:0]
    if len(body) != wanted:
        raise ValueError("sendump has not the weights of this model")
    return -body.astype(np.float64).reshape(STREAMS, gaussians, states) * _LOG_STEP
