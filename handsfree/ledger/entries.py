"""The entries of the ledger: what is written for good.

An entry is a numbered envelope (when, which session, digests) around one body. Bodies are frozen
dataclasses of plain JSON values only, so that they can be written canonically and digested. A
correction is a new entry that reverses or renames an old one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from handsfree.errors import EntryError


@dataclass(frozen=True, slots=True)
class SessionBegan:
    """A recorder (live, replay or amend) opened the ledger to write."""

    program: str
    source: str
    """"live", "replay" or "amend"."""
    engine: str = ""
    started_at: str = ""
    """RFC 3339, the wall time at which the session's t_ns is 0."""


@dataclass(frozen=True, slots=True)
class SessionEnded:
    """A recorder ended in order, with the counts of what it refused."""

    reason: str
    counts: dict[str, int] = field(default_factory=dict)
    """Refusals by reason: rejected speech, torn frames, passed loads ..."""


@dataclass(frozen=True, slots=True)
class CarcassOpened:
    """A new carcass; its number in the ledger is counted up from 1."""

    carcass: int
    tag: str = ""
    """Digits as said or typed; may be given later by `CarcassDescribed`."""
    plan: str = ""
    """The cut plan it begins with; may be changed by `CarcassDescribed`."""


@dataclass(frozen=True, slots=True)
class CarcassDescribed:
    """Something known about the carcass; None leaves what was known before."""

    carcass: int
    tag: str | None = None
    species: str | None = None
    sex: str | None = None
    skin: str | None = None
    """"on" or "off" when the dressed weight was taken."""
    hot_or_cold: str | None = None
    plan: str | None = None


@dataclass(frozen=True, slots=True)
class PlanChanged:
    """From now on the carcass is cut to this plan; an `EntryReversed` takes it back."""

    carcass: int
    plan: str
    heard: str = ""
    """As said; empty when typed."""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class DressedWeightTaken:
    """The carcass's weight before cutting; a later one replaces it."""

    carcass: int
    mass_mg: int
    u_mg: float
    d_mg: int
    """Scale interval; 0 for a spoken weight."""
    scale: str
    """Instrument name; "spoken" when said."""
    indication: str
    """As sent by the scale, or as said."""


@dataclass(frozen=True, slots=True)
class ContainerSet:
    """What stood on the pan is the container (tray, tub): not meat."""

    scale: str
    mass_mg: int
    indication: str
    u_mg: float = 0.0


@dataclass(frozen=True, slots=True)
class WeighingTurned:
    """From now on pieces are weighed by putting on, or by taking off."""

    direction: str
    """"putting on" or "taking off"."""


@dataclass(frozen=True, slots=True)
class ButcherChanged:
    """From now on this butcher works at the bench; an `EntryReversed` takes it back."""

    number: int
    """By which the larder calls the butcher; 0 when only the name was given."""
    name: str
    """Empty: nobody is named from now on."""
    heard: str = ""
    """As said; empty when typed."""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class PieceEntered:
    """One weighing recorded against a carcass: a piece, or a counted lot of one cut."""

    carcass: int
    cut: str
    """Canonical cut name; empty while unnamed."""
    side: str
    """"left", "right" or empty."""
    count: int
    destination: str
    """Empty while unnamed."""
    mass_mg: int
    """Net mass."""
    u_mg: float
    """Standard uncertainty from rounding and spread of this weighing alone."""
    d_mg: int
    scale: str
    method: str
    """A `pairing.messages.Method` value."""
    indication: str
    """The settled indication after the change, as sent; "spoken" weights as said."""
    indication_before: str = ""
    heard: str = ""
    confidence: float = 1.0
    """Probability, 0 to 1, of the name by sound, plan and weight together."""
    alternatives: tuple[str, ...] = ()
    readings: tuple[dict[str, str | float], ...] = ()
    """What the name was chosen from, likeliest first: `name`, `heard`, the natural logarithms `sound`,
    `plan` and `weight` (see `pairing.fusion.Reading`), `probability`, and `against`, what the usual weight
    rests on, where one was known."""
    lag_ms: int | None = None
    """Milliseconds from the end of the call to the beginning of the load, below zero; from the settled
    load to the beginning of the call, above; 0 while it moved; None where they were never paired."""
    asked: str = ""
    """What was asked about it aloud, answered or not: a `pairing.messages.QuestionKind`, or empty."""
    by: str = ""
    """Who cut it: the name of the butcher at the bench when it was called or laid; empty for nobody."""


@dataclass(frozen=True, slots=True)
class EntryReversed:
    """Takes back an earlier entry: a piece, a change of plan or butcher, or a reversal (then it is back)."""

    reverses: int
    """Sequence number of the entry taken back."""
    reason: str


@dataclass(frozen=True, slots=True)
class PieceRenamed:
    """Names an unnamed piece, or corrects the name of a named one; the weight stays."""

    piece: int
    """Sequence number of the `PieceEntered` entry."""
    cut: str
    side: str
    count: int
    destination: str
    heard: str
    reason: str


@dataclass(frozen=True, slots=True)
class CallLeftUnweighed:
    """A cut was called and nothing was weighed for it."""

    carcass: int
    cut: str
    side: str
    count: int
    heard: str


@dataclass(frozen=True, slots=True)
class CarcassParked:
    """Put aside to go on with another."""

    carcass: int


@dataclass(frozen=True, slots=True)
class CarcassResumed:
    """Taken up again (also opens a closed carcass again)."""

    carcass: int


@dataclass(frozen=True, slots=True)
class CarcassClosed:
    """Finished: the balance as told at that moment."""

    carcass: int
    verdict: str
    sentence: str
    unaccounted_mg: int | None
    """None when there is no dressed weight to reconcile with."""
    expanded_u_mg: int | None
    suspect: str | None = None
    """Kind of the suspect that was named (`reconciliation.hypotheses.SuspectKind`), empty for none.
    None: the entry is older than this field, and only its sentence tells."""
    believed: tuple[dict[str, str | float], ...] = ()
    """What the balance took for the expected losses and the usual shares
    (`reconciliation.belief.Belief`), so that carcasses closed later never change it. Empty in entries
    older than this field: those rest on the published figures."""


@dataclass(frozen=True, slots=True)
class TemperatureNoted:
    """A core temperature of the meat or the water of the steriliser, degrees Celsius as said."""

    carcass: int | None
    what: str
    """"core" or "steriliser"."""
    celsius: str


@dataclass(frozen=True, slots=True)
class NoteMade:
    """One of the closed list of notes, or text typed with `amend`."""

    carcass: int | None
    text: str


@dataclass(frozen=True, slots=True)
class TroubleNoted:
    """A device trouble, or its end: weights may be missing between the two."""

    device: str
    kind: str
    detail: str = ""


Body = (
    SessionBegan
    | SessionEnded
    | CarcassOpened
    | CarcassDescribed
    | PlanChanged
    | DressedWeightTaken
    | ContainerSet
    | WeighingTurned
    | ButcherChanged
    | PieceEntered
    | EntryReversed
    | PieceRenamed
    | CallLeftUnweighed
    | CarcassParked
    | CarcassResumed
    | CarcassClosed
    | TemperatureNoted
    | NoteMade
    | TroubleNoted
)

#: Every body by the name it has in the ledger; names are never reused for another meaning.
BODIES: dict[str, type[Body]] = {kind.__name__: kind for kind in Body.__args__}


@dataclass(frozen=True, slots=True)
class Entry:
    """One numbered, digested entry."""

    seq: int
    """1, 2, 3 ... without gaps."""
    posted_at: str
    """RFC 3339 UTC wall time with microseconds: when it happened in the session."""
    session: str
    """Identifier of the session that wrote it."""
    t_ns: int
    """Time within that session."""
    body: Body
    previous: str
    """Digest of the entry before; 64 zeros for the first."""
    digest: str
    """SHA-256 (FIPS 180-4), hexadecimal, over the canonical JSON of all the above."""


def body_to_json(body: Body) -> dict[str, Any]:
    """The body as plain JSON values, without its kind."""
    return asdict(body)


def body_from_json(kind: str, values: dict[str, Any]) -> Body:
    """The body of this kind from plain JSON values.

    Raises:
        EntryError: The kind is not known, or the values are not those of the kind.
    """
    try:
        cls = BODIES[kind]
    except KeyError:
        raise EntryError(f"an entry of kind {kind!r} is not known to this version") from None
    known = {f.name for f in fields(cls)}
    if not set(values) <= known:
        raise EntryError(f"an entry of kind {kind} has unknown values {sorted(set(values) - known)}")
    plain: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in values.items()}
    make: Callable[..., Body] = cls
    try:
        return make(**plain)
    except TypeError as error:
        raise EntryError(f"an entry of kind {kind} is incomplete: {error}") from error
