"""Pure: the Gaussians of an acoustic model, and how they are moved to one speaker.

The model is phonetically tied: every phone has its own codebook of Gaussians with diagonal
covariances in each of several feature streams, and every state (senone) weighs the Gaussians of its
phone. Only means are moved.

Two ways, in this order: one affine transform a stream found by maximum likelihood regression (MLLR;
Leggetter and Woodland 1995, Computer Speech and Language 9:171, equations 14 to 20, one class,
diagonal covariances), then the maximum a posteriori estimate of each mean with the transformed mean
as its prior (MAP; Gauvain and Lee 1994, IEEE Trans. Speech and Audio Processing 2:291, equation 23
with the prior's weight `tau` the same everywhere). With little speech the first moves all Gaussians
together; with more the second moves those that were heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

CEPSTRA = 13
"""Coefficients a frame, and values a stream."""
STREAMS = 3
"""Cepstra, their slope, the slope of the slope."""


@dataclass(frozen=True, slots=True, eq=False)
class AcousticModel:
    """Codebooks of Gaussians. C phones, S streams, D Gaussians a stream, N states."""

    phones: tuple[str, ...]
    """The phone of each codebook, length C."""
    means: Floats
    """Shape (C, S, D, 13)."""
    variances: Floats
    """Shape (C, S, D, 13), positive."""
    log_weights: Floats
    """Natural logarithms, shape (S, D, N)."""


@dataclass(frozen=True, slots=True, eq=False)
class Alignment:
    """An utterance with the state of each of its frames. T frames of 10 ms."""

    features: Floats
    """Shape (T, S, 13), the cepstral mean taken out."""
    codebooks: Numbers
    """Index into `AcousticModel.phones`, shape (T,)."""
    states: Numbers
    """Index of the state, shape (T,)."""


@dataclass(frozen=True, slots=True, eq=False)
class Statistics:
    """What was heard of each Gaussian. Sums, so those of two utterances add."""

    occupancy: Floats
    """Frames, in fractions: sum over t of the Gaussian's posterior, shape (C, S, D)."""
    first: Floats
    """Sum over t of posterior times features, shape (C, S, D, 13)."""

    def __add__(self, other: Statistics) -> Statistics:
        return Statistics(self.occupancy + other.occupancy, self.first + other.first)


def features(cepstra: Floats, mean: Floats) -> Floats:
    """The streams of an utterance: cepstra less their mean, slope over 40 ms, slope of the slope.

    As the embedded engine computes them for the feature type "1s_c_d_dd" (CMU Sphinx, feat.c,
    `feat_1s_c_d_dd_cep2feat`): d(t) = c(t+2) - c(t-2); dd(t) = (c(t+3) - c(t-1)) - (c(t+1) - c(t-3));
    the frames at both ends are repeated.

    Args:
        cepstra: Shape (T, 13), T at least 1.
        mean: Shape (13,).

    Returns:
        Shape (T, 3, 13).
    """
    frames = len(cepstra)
    padded = np.pad(cepstra - mean, ((3, 3), (0, 0)), mode="edge")

    def at(offset: int) -> Floats:
        return padded[3 + offset : 3 + offset + frames]

    slope = at(2) - at(-2)
    second = (at(3) - at(-1)) - (at(1) - at(-3))
    return np.stack([at(0), slope, second], axis=1)


def nothing_heard(model: AcousticModel) -> Statistics:
    """Statistics of no sound at all."""
    return Statistics(np.zeros(model.means.shape[:3]), np.zeros(model.means.shape))


def accumulate(model: AcousticModel, said: Alignment) -> Statistics:
    """The statistics of one aligned utterance.

    Within a frame each Gaussian of the frame's state has the posterior weight times density over the
    sum of those of its stream.
    """
    heard = nothing_heard(model)
    for codebook in np.unique(said.codebooks):
        frames = np.flatnonzero(said.codebooks == codebook)
        for stream in range(STREAMS):
            x = said.features[frames, stream]
            posterior = _posteriors(
                x,
                model.means[codebook, stream],
                model.variances[codebook, stream],
                model.log_weights[stream][:, said.states[frames]].T,
            )
            heard.occupancy[codebook, stream] += posterior.sum(axis=0)
            heard.first[codebook, stream] += posterior.T @ x
    return heard


def log_likelihood(model: AcousticModel, said: Alignment) -> float:
    """Natural log likelihood of the aligned frames, all together, state by state."""
    total = 0.0
    for codebook in np.unique(said.codebooks):
        frames = np.flatnonzero(said.codebooks == codebook)
        for stream in range(STREAMS):
            joint = _joint(
                said.features[frames, stream],
                model.means[codebook, stream],
                model.variances[codebook, stream],
                model.log_weights[stream][:, said.states[frames]].T,
            )
            most = joint.max(axis=1)
            total += float(np.sum(most + np.log(np.exp(joint - most[:, None]).sum(axis=1))))
    return total


def map_means(model: AcousticModel, heard: Statistics, tau: float) -> AcousticModel:
    """Means between the model's (weight `tau` frames) and what was heard (its own frames).

    Args:
        model: Its means are the prior's.
        heard: Of the speaker.
        tau: Frames the prior counts for; positive.
    """
    occupancy = heard.occupancy[..., None]
    return replace(model, means=(tau * model.means + heard.first) / (tau + occupancy))


def mllr_means(model: AcousticModel, heard: Statistics, *, leave_out: Sequence[str] = ()) -> AcousticModel:
    """Means after the affine transform, one a stream, under which the speech was likeliest.

    Args:
        model: What is transformed.
        heard: Of the speaker; a stream with less than 200 frames stays as it is, for 182 figures
            cannot be found from less.
        leave_out: Phones that neither teach the transform nor are moved by it: silence and noises.
    """
    spoken = np.array([phone not in leave_out for phone in model.phones])
    means = model.means.copy()
    for stream in range(STREAMS):
        occupancy = heard.occupancy[spoken, stream].ravel()
        if occupancy.sum() < _LEAST_FRAMES:
            continue
        old = means[spoken, stream].reshape(-1, CEPSTRA)
        extended = np.concatenate([np.ones((len(old), 1)), old], axis=1)
        weight = 1.0 / model.variances[spoken, stream].reshape(-1, CEPSTRA)
        target = heard.first[spoken, stream].reshape(-1, CEPSTRA)
        new = np.empty_like(old)
        for row in range(CEPSTRA):
            gram = (extended * (occupancy * weight[:, row])[:, None]).T @ extended
            right = extended.T @ (target[:, row] * weight[:, row])
            new[:, row] = extended @ np.linalg.lstsq(gram, right, rcond=None)[0]
        means[spoken, stream] = new.reshape(means[spoken, stream].shape)
    return replace(model, means=means)


_LEAST_FRAMES = 200


def _posteriors(x: Floats, means: Floats, variances: Floats, log_weights: Floats) -> Floats:
    """Shape (T, D): of each frame over the Gaussians."""
    joint = _joint(x, means, variances, log_weights)
    likely = np.exp(joint - joint.max(axis=1, keepdims=True))
    return np.asarray(likely / likely.sum(axis=1, keepdims=True))


def _joint(x: Floats, means: Floats, variances: Floats, log_weights: Floats) -> Floats:
    """Log of weight times density, shape (T, D)."""
    constant = -0.5 * np.sum(np.log(2.0 * np.pi * variances), axis=1)
    precision = 1.0 / variances
    distance = (x**2) @ precision.T - 2.0 * x @ (means * precision).T + np.sum(means**2 * precision, axis=1)
    return np.asarray(log_weights + constant - 0.5 * distance)
