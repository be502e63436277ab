"""Moving Gaussians to a speaker: features, statistics, MAP and MLLR against hand figures and formulas."""

from dataclasses import replace

import numpy as np
import pytest

from handsfree.speech.acoustic_model import (
    AcousticModel,
    Alignment,
    Statistics,
    accumulate,
    features,
    log_likelihood,
    map_means,
    mllr_means,
    nothing_heard,
)

RNG = np.random.default_rng(3)


def model(gaussians: int = 2, phones: tuple[str, ...] = ("AA",), states: int = 1) -> AcousticModel:
    shape = (len(phones), 3, gaussians, 13)
    return AcousticModel(
        phones,
        RNG.normal(0, 2, shape),
        RNG.uniform(0.5, 2.0, shape),
        np.log(np.full((3, gaussians, states), 1.0 / gaussians)),
    )


def flat_model() -> AcousticModel:
    """Two Gaussians, at 0 and at 2 in the first value of every stream, variances 1, equal weights."""
    means = np.zeros((1, 3, 2, 13))
    means[0, :, 1, 0] = 2.0
    return AcousticModel(("AA",), means, np.ones((1, 3, 2, 13)), np.log(np.full((3, 2, 1), 0.5)))


def one_frame(value: float) -> Alignment:
    frame = np.zeros((1, 3, 13))
    frame[0, :, 0] = value
    return Alignment(frame, np.array([0]), np.array([0]))


def test_slopes_are_those_of_the_feature_type() -> None:
    # c(t) = t: d = c(t+2) - c(t-2) = 4, and the slope of a constant slope is 0, away from the ends.
    cepstra = np.repeat(np.arange(10.0)[:, None], 13, axis=1)
    streams = features(cepstra, np.full(13, 1.0))
    assert streams.shape == (10, 3, 13)
    assert streams[5, 0, 0] == 4.0
    assert np.all(streams[3:7, 1] == 4.0)
    assert np.all(streams[3:7, 2] == 0.0)


def test_one_frame_halfway_is_shared_evenly() -> None:
    # By symmetry: a frame at 1 is as far from 0 as from 2.
    heard = accumulate(flat_model(), one_frame(1.0))
    assert heard.occupancy == pytest.approx(np.full((1, 3, 2), 0.5))
    assert heard.first[0, 0, :, 0] == pytest.approx([0.5, 0.5])


def test_posteriors_follow_the_densities() -> None:
    # exp(-x^2/2) : exp(-(x-2)^2/2) at x = 0.5 is exp(1) : 1, so 0.7310586 and 0.2689414.
    heard = accumulate(flat_model(), one_frame(0.5))
    assert heard.occupancy[0, 1] == pytest.approx([0.7310586, 0.2689414], abs=1e-7)


def test_the_likelihood_is_that_of_the_mixture() -> None:
    # Each stream: log(0.5 N(1; 0, 1) + 0.5 N(1; 2, 1)) with twelve more values at 0:
    # 13 * log(1 / sqrt(2 pi)) - 0.5 = -12.4462009; three streams.
    assert log_likelihood(flat_model(), one_frame(1.0)) == pytest.approx(3 * -12.4462009, abs=1e-5)


def test_statistics_of_two_utterances_add() -> None:
    one, two = accumulate(flat_model(), one_frame(0.3)), accumulate(flat_model(), one_frame(1.9))
    both = Alignment(
        np.concatenate([one_frame(0.3).features, one_frame(1.9).features]), np.zeros(2, int), np.zeros(2, int)
    )
    together = accumulate(flat_model(), both)
    assert (one + two).first == pytest.approx(together.first)
    assert (one + two).occupancy == pytest.approx(together.occupancy)


def test_map_stands_between_prior_and_speech_by_their_frames() -> None:
    # Gauvain and Lee 1994, equation 23: (tau m + sum gamma x) / (tau + sum gamma)
    # = (10 * 0 + 30 * 4) / (10 + 30) = 3.
    heard = nothing_heard(flat_model())
    heard.occupancy[0, 0, 0] = 30.0
    heard.first[0, 0, 0, 0] = 30.0 * 4.0
    moved = map_means(flat_model(), heard, 10.0).means
    assert moved[0, 0, 0, 0] == pytest.approx(3.0)
    assert moved[0, 0, 1, 0] == 2.0  # never heard: stays
    assert np.all(moved[0, 1:] == flat_model().means[0, 1:])


def test_the_transform_that_made_the_speech_is_found_again() -> None:
    # Leggetter and Woodland 1995: where every mean was moved by one and the same W, regression gives W.
    base = model(gaussians=40)
    matrix, offset = np.eye(13) + RNG.normal(0, 0.1, (13, 13)), RNG.normal(0, 1, 13)
    target = base.means @ matrix.T + offset
    occupancy = RNG.uniform(5.0, 50.0, (1, 3, 40))
    moved = mllr_means(base, Statistics(occupancy, target * occupancy[..., None]))
    assert moved.means == pytest.approx(target, abs=1e-6)


def test_the_transform_is_the_weighed_least_squares_solution() -> None:
    # Each row is found by minimising sum occupancy/variance (target - w xi)^2; numpy's own solver of the
    # scaled system is the reference.
    base = model(gaussians=30)
    occupancy = RNG.uniform(5.0, 50.0, (1, 3, 30))
    seen = base.means + RNG.normal(0, 1, base.means.shape)
    moved = mllr_means(base, Statistics(occupancy, seen * occupancy[..., None])).means
    extended = np.hstack([np.ones((30, 1)), base.means[0, 1]])
    for row in (0, 7):
        scale = np.sqrt(occupancy[0, 1] / base.variances[0, 1, :, row])
        w = np.linalg.lstsq(extended * scale[:, None], seen[0, 1, :, row] * scale, rcond=None)[0]
        assert moved[0, 1, :, row] == pytest.approx(extended @ w, abs=1e-6)


def test_too_little_speech_moves_nothing() -> None:
    base = model(gaussians=40)
    heard = Statistics(np.full((1, 3, 40), 1.0), base.means + 5.0)  # 40 frames
    assert np.array_equal(mllr_means(base, heard).means, base.means)


def test_silence_is_neither_taught_nor_moved() -> None:
    base = model(gaussians=20, phones=("AA", "SIL"))
    occupancy = np.full((2, 3, 20), 30.0)
    heard = Statistics(occupancy, (base.means + 1.0) * 30.0)
    heard.first[1] += 1e6
    moved = mllr_means(base, heard, leave_out=("SIL",)).means
    assert moved[0] == pytest.approx(base.means[0] + 1.0, abs=1e-6)
    assert np.array_equal(moved[1], base.means[1])


def test_adaptation_makes_the_speech_likelier() -> None:
    base = model(gaussians=4)
    shifted = replace(base, means=base.means + 0.8)
    frames = shifted.means[0][:, RNG.integers(0, 4, 400)].transpose(1, 0, 2) + RNG.normal(0, 1, (400, 3, 13))
    said = Alignment(frames, np.zeros(400, int), np.zeros(400, int))
    moved = map_means(base, accumulate(base, said), 10.0)
    assert log_likelihood(moved, said) > log_likelihood(base, said)
