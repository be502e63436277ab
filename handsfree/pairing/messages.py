"""What pairing decides: pieces, calls without a weight, instructions, questions. All frozen."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from handsfree.pairing.fusion import Reading
from handsfree.speech.meaning import PLACES, YES_NO, Answer, Call, Command
from handsfree.speech.messages import Utterance
from handsfree.weighing.messages import LoadChange, Plateau


class Method(StrEnum):
    """How a piece was weighed; decides how its uncertainty adds up."""

    CLEARED_PAN = "cleared pan"
    """The plateau before was the empty pan or empty container."""
    TRAY_BUILDING = "tray building"
    """Put on top of what was there: a difference of two plateaus with load."""
    TAKING_OFF = "taking off"
    """Cut from a block on the scale: the load went down by this much."""
    SPOKEN = "spoken"
    """The weight was said, not read from a scale."""


class QuestionKind(StrEnum):
    """What is asked."""

    WHICH = "which"
    """Two readings are close: answered by one of the options."""
    CHOOSE = "choose"
    """What was said was not made out twice, and several are read out: answered by the number of one, by no
    for none of them, or by a call."""
    CONFIRM = "confirm"
    """A reading that the plan says is nearly impossible: answered by yes, no or a call."""
    WHAT_WAS_THAT = "what was that"
    """A weight with no call: answered by any call."""
    DRESSED_WEIGHT = "dressed weight"
    """A load that was probably the carcass: answered by yes or no; it waits behind every other question."""
    TAG = "tag"
    """A tag that was not heard surely, of a carcass that has none: answered by yes, no, or the tag again."""
    TRAY = "tray"
    """The same uncalled load began one tray before: answered by yes, no or any call."""


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has passed; nothing else happened. Drives everything that waits."""

    t_ns: int
    busy: bool | None = None
    """Whether it is no moment for a question: somebody talks, a saw runs. None: not known anew."""


@dataclass(frozen=True, slots=True)
class PieceWeighed:
    """A load change and the call that names it; without a call the piece is unnamed."""

    t_ns: int
    """When the decision was made."""
    call: Call | None
    net_mg: int
    u_mg: float
    """Standard uncertainty of `net_mg` from rounding and spread (span and tare are added later)."""
    method: Method
    change: LoadChange | None
    """None for a spoken weight."""
    heard: str = ""
    confidence: float = 1.0
    """Probability, 0 to 1, of the name by sound, plan and weight together."""
    alternatives: tuple[str, ...] = ()
    readings: tuple[Reading, ...] = ()
    """What the name was chosen from, likeliest first; empty when it was not weighed up."""
    lag_s: float | None = None
    """Seconds between call and load: see `rhythm.lag_s`; None for a weight that was said."""
    asked: QuestionKind | None = None
    """What was asked about it aloud, answered or not."""


@dataclass(frozen=True, slots=True)
class CallUnweighed:
    """A call for which no load change came."""

    t_ns: int
    call: Call
    heard: str


class PassingReason(StrEnum):
    """Why a load change was not taken for a piece."""

    CONTAINER = "container put on"
    KNOWN_TRAY = "known tray put on"
    """As heavy as the tray that stood here, and no call near it."""
    CLEARED = "pan cleared"
    BRIEF = "touched the pan"
    PUT_BACK = "put back what was taken off"
    BLOCK = "block put on"
    """While taking off: the new block the pieces will be cut from."""
    CARCASS_SCALE = "the carcass scale"
    """The rail carries whole carcasses, not pieces."""
    THE_CARCASS = "the carcass itself"
    """Taken as the dressed weight, or put on before it was asked for."""
    RESTING = "the recorder was at rest"
    NO_CARCASS = "no carcass open"


@dataclass(frozen=True, slots=True)
class LoadPassed:
    """A load change that is no piece: data, counted and shown, never dropped."""

    t_ns: int
    change: LoadChange
    reason: PassingReason


@dataclass(frozen=True, slots=True)
class Instruction:
    """A command to carry out, with what stood on the scales at that moment."""

    t_ns: int
    command: Command
    heard: str
    standing: tuple[Plateau, ...] = ()
    """The settled plateau of each scale that has one, newest first."""
    pieces_only: bool = False
    """The recorder's own strike of the last piece: a change of plan said after it stays."""
    piece: int | None = None
    """Number of the entry that is renamed or struck; None for the last one."""


@dataclass(frozen=True, slots=True)
class Question:
    """One short question aloud; ignoring it leaves the piece as it is, listed at close."""

    t_ns: int
    number: int
    kind: QuestionKind
    options: tuple[Call, ...]
    net_mg: int
    """The weight the question is about; 0 for a tag."""
    piece: int | None = None
    """Number of the entry, for a piece that is in the ledger without a name and is gone over."""
    digits: str = ""
    """The tag that is asked about."""

    @property
    def replies(self) -> tuple[Answer, ...]:
        """What answers it besides a call."""
        match self.kind:
            case QuestionKind.WHICH | QuestionKind.WHAT_WAS_THAT:
                return ()
            case QuestionKind.CHOOSE:
                return (*PLACES[: len(self.options)], Answer.NO)
            case QuestionKind.CONFIRM | QuestionKind.TAG | QuestionKind.TRAY | QuestionKind.DRESSED_WEIGHT:
                return YES_NO


@dataclass(frozen=True, slots=True)
class QuestionClosed:
    """The end of a question: answered, or lapsed when `answer` is None."""

    t_ns: int
    question: Question
    answer: Answer | Call | None


@dataclass(frozen=True, slots=True)
class TrayWithdrawn:
    """What was last taken for the tray of this scale is none: the one before it holds again."""

    t_ns: int
    scale: str


#: Why a call is refused that would have been taken with a carcass in hand: the butcher must be told.
NO_CARCASS = "no carcass is open"


@dataclass(frozen=True, slots=True)
class SpeechRefused:
    """An utterance not acted on, with why: refused by the gate, or of no use in this state."""

    t_ns: int
    utterance: Utterance
    why: str


Decision = (
    PieceWeighed
    | CallUnweighed
    | LoadPassed
    | Instruction
    | Question
    | QuestionClosed
    | TrayWithdrawn
    | SpeechRefused
)
