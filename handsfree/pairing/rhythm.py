"""When this butcher names a piece: before it lies on the scale, while it moves, or after. Pure.

Learned from pieces already in the ledger and those of the session; until there are any, all three are
equally likely.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import inf, log, sqrt

from handsfree.clock import seconds
from handsfree.pairing.messages import PieceWeighed
from handsfree.pairing.settings import PairingSettings
from handsfree.speech.messages import Utterance

#: As many imaginary pieces of each kind stand behind the waits one begins with.
_PRIOR_PIECES = 6
#: Older pieces are another season's habits.
_LATEST = 200
#: From this lead on, in logarithms, one habit is known to be the usual: three or four pieces running.
_KNOWN = 0.5
#: A habit is never taken for a law.
_LEAST_LOG = -3.5


@dataclass(frozen=True, slots=True)
class Habit:
    """How one kind of timing scores."""

    log_height: float = 0.0
    """Log of how much likelier it is, at its likeliest, than before anything was learned."""
    sigma_s: float = 1.0
    """Spread of the time between call and load."""

    def score(self, lag_s: float) -> float:
        """Log score of a lag, half-normal: the shorter the likelier."""
        return self.log_height - 0.5 * (lag_s / self.sigma_s) ** 2


@dataclass(frozen=True, slots=True)
class Rhythm:
    """The three kinds of timing."""

    before: Habit = field(default_factory=lambda: Habit(0.0, PairingSettings().sigma_before_s))
    """The call ends before the load begins to move."""
    while_moving: float = 0.0
    after: Habit = field(default_factory=lambda: Habit(0.0, PairingSettings().sigma_after_s))
    """The call begins after the load has settled."""

    @property
    def calls_first(self) -> bool:
        """Whether this butcher is known to name a piece before laying it down rather than after."""
        return self.before.log_height > self.after.log_height + _KNOWN


def learn(lags_s: Iterable[float], settings: PairingSettings) -> Rhythm:
    """The rhythm behind these lags, the latest last.

    Args:
        lags_s: One a piece, as `lag_s` gives them.
        settings: With the spreads one begins with.
    """
    lags = list(lags_s)[-_LATEST:]
    everything = len(lags) + 3 * _PRIOR_PIECES

    def habit(of: list[float], sigma_s: float) -> Habit:
        # The variance of a half-normal is learned as that of a normal with known mean 0, with the
        # beginning's as a prior (Gelman et al., Bayesian Data Analysis, 2.6), its mode.
        squares = _PRIOR_PIECES * sigma_s**2 + sum(lag**2 for lag in of)
        learned_s = sqrt(squares / (_PRIOR_PIECES + len(of)))
        share = (len(of) + _PRIOR_PIECES) / everything
        return Habit(max(_LEAST_LOG, log(3 * share * sigma_s / learned_s)), learned_s)

    moving = sum(lag == 0 for lag in lags)
    return Rhythm(
        before=habit([lag for lag in lags if lag < 0], settings.sigma_before_s),
        while_moving=max(_LEAST_LOG, log(3 * (moving + _PRIOR_PIECES) / everything)),
        after=habit([lag for lag in lags if lag > 0], settings.sigma_after_s),
    )


class Rhythms:
    """The rhythm as it is known now: that of earlier pieces, and of this session's as they come.

    Args:
        settings: With the spreads one begins with.
        lags_s: Of earlier pieces, oldest first.
    """

    def __init__(self, settings: PairingSettings, lags_s: Iterable[float] = ()) -> None:
        self._settings = settings
        self._lags_s = deque(lags_s, _LATEST)
        self.now = learn(self._lags_s, settings)

    def note(self, piece: PieceWeighed) -> None:
        """One more piece: what was named without a question tells the butcher's own rhythm."""
        if piece.call is not None and piece.asked is None and piece.lag_s is not None:
            self._lags_s.append(piece.lag_s)
            self.now = learn(self._lags_s, self._settings)


def lag_s(utterance: Utterance, onset_ns: int, settled_ns: int) -> float:
    """Seconds from call to load below zero, from settled load to call above; 0 while it moved."""
    if utterance.end_ns <= onset_ns:
        return -seconds(onset_ns - utterance.end_ns)
    if utterance.start_ns >= settled_ns:
        return seconds(utterance.start_ns - settled_ns)
    return 0.0


def lag_score(lag: float, rhythm: Rhythm, settings: PairingSettings) -> float:
    """Log score of a call and a weight belonging together by time alone; -inf outside the waits."""
    if lag < -seconds(settings.call_before_ns) or lag > seconds(settings.call_after_ns):
        return -inf
    if lag < 0:
        return rhythm.before.score(-lag)
    return rhythm.after.score(lag) if lag > 0 else rhythm.while_moving
