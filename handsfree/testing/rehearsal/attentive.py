"""A butcher who listens: says again what was not taken, answers what is asked, puts right what is wrong.

Pure but for the ears given to it. This butcher knows no more than a person at the block: the tones and
the words of the answers, what was laid down, and the scale's display. What was read back as another
cut is corrected, if it was noticed; what brings no answer within the butcher's patience is said again;
after a few times it is let go, as it would be.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.answering.messages import Tone
from handsfree.answering.spoken import mass_words, piece_words
from handsfree.mass import MG_PER_G
from handsfree.testing.rehearsal.ears import Answer, Ears
from handsfree.testing.rehearsal.pace import Bench, Cut
from handsfree.testing.rehearsal.scenario import rounded_g

_DENIALS = frozenset({"no", "none of these"})
_GLANCE_S = 0.2
"""How finely time passes while something is listened for."""


@dataclass(frozen=True, slots=True)
class Attention:
    """How this butcher listens (our own choices; nobody was measured)."""

    patience_s: float = 5.0
    """Without an answer for this long it is said again. Longer than the recorder waits before it asks."""
    sayings: int = 4
    """A piece or a command is said so often at most."""
    notices: float = 0.95
    """Chance that another cut read back than the one called is noticed."""
    reacts_s: float = 0.5
    """From the end of an answer to the butcher's own word."""
    slower: float = 1.08
    """What has to be said again is said this much slower."""


class AttentiveBench(Bench):
    """The bench of a butcher who hears the recorder.

    Args:
        d_g: As for `Bench`.
        seed: As for `Bench`.
        ears: Through whom the recorder is heard.
        attention: How well.
    """

    def __init__(self, d_g: dict[str, int], seed: int, ears: Ears, attention: Attention) -> None:
        super().__init__(d_g, seed)
        self._ears = ears
        self._attention = attention
        self._unread: list[Answer] = []
        self._last: Cut | None = None
        self._laid: list[Cut] = []
        self._not_taken: list[Cut] = []
        """Of those, the ones that were never read back."""
        self._tag = ""
        """As the recorder says it."""
        self._over: list[Cut] = []
        """What the weight may be that was asked about last, in going over those without a name."""
        self._hung_g = 0.0

    def command(self, text: str, answer: str) -> None:
        """Say it until it is answered as it should be."""
        self._tag = answer if answer.startswith("tag ") else self._tag
        self._read()
        for attempt in range(self._attention.sayings):
            if attempt:
                self._go(self.about(self._attention.reacts_s))
            self._again(text, attempt)
            if self._answered(answer, text):
                return

    def hang(self, mass_g: float) -> None:
        """As `Bench.hang`; the weight is remembered, for it may be asked about."""
        self._hung_g = mass_g
        super().hang(mass_g)

    def swap_tray(self) -> None:
        """As `Bench.swap_tray`; a tray that is not told as one is called by its name."""
        self._read()
        super().swap_tray()
        if not self._answered("tray"):
            self.command("ledger tray", "tray")

    def wait(self, seconds: float, spread: float = 0.25) -> None:
        """Knife work; a question that comes meanwhile is answered."""
        super().wait(seconds, spread)
        waiting = [self._last] if self._last is not None else []
        for answer in self._read():
            if answer.tone is Tone.QUESTION:
                self._reply(self._to_question(answer, waiting), slower=False)

    def lay(self, piece: Cut, *, event: str = "piece") -> None:
        """As `Bench.lay`; what lies there is remembered, for it may be asked about at the close."""
        super().lay(piece, event=event)
        self._laid.append(piece)
        self._not_taken.append(piece)

    def see_to(self, *pieces: Cut) -> None:
        """Listen until each of these called pieces has been taken, and help where it was not."""
        waiting = list(pieces)
        self._last = pieces[-1]
        said = len(pieces)
        while waiting and said < self._attention.sayings * len(pieces):
            answer = self._next()
            words = self._words_for(answer, waiting)
            if words:
                self._reply(words, slower=answer is None)
                said += 1
        self._last = waiting[-1] if waiting else None

    def _words_for(self, answer: Answer | None, waiting: list[Cut]) -> str:
        """What is said to an answer, or to none; pieces that were taken leave `waiting`."""
        if answer is None:
            return _call(waiting[0])
        match answer.tone:
            case Tone.ACCEPTED | Tone.CORRECTED:
                return self._to_read_back(answer, waiting)
            case Tone.UNNAMED:
                return f"ledger that was {_call(waiting[-1])}"
            case Tone.QUESTION:
                return self._to_question(answer, waiting)
            case Tone.REFUSED:
                return self._to_refusal(answer, waiting)
        return ""

    def _to_refusal(self, answer: Answer, waiting: list[Cut]) -> str:
        if answer.text.startswith("no carcass"):
            self.command("ledger new carcass", "new carcass")
        return _call(waiting[0]) if answer.text.startswith(("no weight", "no carcass")) else ""

    def _to_read_back(self, answer: Answer, waiting: list[Cut]) -> str:
        heard = answer.text.removeprefix("now ").split(",")[0]
        taken = next((piece for piece in waiting if heard in _names(piece)), None)
        if taken is None and heard and self._notices():
            return f"ledger that was {_call(waiting[0])}"
        waiting.remove(taken or waiting[0])
        if taken in self._not_taken:
            self._not_taken.remove(taken)
        return ""

    def _to_question(self, answer: Answer, waiting: list[Cut]) -> str:
        if answer.text.startswith(("tray", "tag ", "dressed weight")):
            return "yes" if self._is_so(answer.text) else "no"
        if answer.text.startswith("what was that") and self._weighs(answer.text, self.container_g, "bench"):
            return "ledger tray"
        if not waiting or answer.text.startswith("number one,"):
            return _from_list(answer.text, waiting) if waiting else ""
        meant = next((piece for piece in waiting if _bare(piece) in answer.text), waiting[0])
        if answer.text.startswith("what was that"):
            meant = next(
                (piece for piece in waiting if self._weighs(answer.text, piece.mass_g, "bench")), meant
            )
        elif any(answer.text.endswith(f"{name}, yes or no?") for name in _names(meant)):
            return "yes"
        return _call(meant)

    def _is_so(self, text: str) -> bool:
        """Whether what is asked about the tray, the tag or the carcass is true."""
        if text.startswith("tag "):
            return text == f"{self._tag}, yes or no?"
        if text.startswith("tray"):
            return self._weighs(text, self.container_g, "bench")
        return self._weighs(text, self._hung_g, "rail")

    def _to_nameless(self, text: str) -> str:
        """What is said of a weight without a name, at the close: it is found among the pieces laid down."""
        every = (self._not_taken, self._laid)
        likely = ([each for each in some if self._weighs(text, each.mass_g, "bench")] for some in every)
        meant = self._over = next((some for some in likely if some), [])
        if not meant:
            return "ledger strike that"
        if "number one," in text:
            return _from_list(text, meant)
        said = text.partition(". ")[2]
        if any(said == f"{name}, yes or no?" for piece in meant for name in _names(piece)):
            return "yes"
        return _call(meant[-1])

    def _weighs(self, text: str, mass_g: float, scale: str) -> bool:
        """Whether this is the weight named: the display stands one interval off as often as not."""
        d_g = self._d_g[scale]
        said = (mass_words(rounded_g(mass_g + off, d_g) * MG_PER_G) for off in (0, -d_g, d_g))
        return any(f", {words}{end}" in text for words in said for end in "?,.")

    def _answered(self, answer: str, said: str = "") -> bool:
        until_s = self.now_s + self._attention.patience_s
        asked, sayings = "", 0
        while self._waits(until_s) or 0 < sayings < self._attention.sayings:
            if not self._waits(until_s):  # the reply was not understood: it is said again
                self._reply(asked, slower=True)
                until_s, sayings = self.now_s + self._attention.patience_s, sayings + 1
            for heard in self._listen():
                if heard.tone is Tone.QUESTION:
                    over = heard.text.startswith("no name, ")
                    reply = self._to_nameless(heard.text) if over else self._to_question(heard, [])
                    words = reply or _confirmed(heard.text, said)
                    if not words:
                        return False
                    self._reply(words, slower=False)
                    # "No" is answered by the next question, or by nothing: it is not said again.
                    until_s, asked = self.now_s + self._attention.patience_s, words
                    sayings = 0 if words in _DENIALS else 1
                elif heard.tone in {Tone.ACCEPTED, Tone.CORRECTED} and self._over:
                    self._reply(self._to_read_back(heard, self._over), slower=False)
                    until_s, sayings = self.now_s + self._attention.patience_s, 0
                elif heard.text.startswith(answer):
                    return True
                elif heard.tone in {Tone.REFUSED, Tone.NOTED, Tone.UNNAMED} and not _is_aside(heard.text):
                    return False
        return False

    def _next(self) -> Answer | None:
        """The next answer, or None when patience is at an end."""
        until_s = self.now_s + self._attention.patience_s
        while not self._unread and self._waits(until_s):
            self._unread += self._listen()
        return self._unread.pop(0) if self._unread else None

    def _waits(self, until_s: float) -> bool:
        """Whether the butcher goes on listening: nobody talks into what is being said."""
        return self.now_s < until_s or self._ears.is_speaking(self.now_s)

    def _read(self) -> list[Answer]:
        """Everything answered up to now."""
        found, self._unread = self._unread + self._ears.hear(self.now_s, self.acts), []
        return found

    def _listen(self) -> list[Answer]:
        self._go(_GLANCE_S)
        return self._ears.hear(self.now_s, self.acts)

    def _reply(self, words: str, *, slower: bool) -> None:
        if words:
            self._go(self.about(self._attention.reacts_s))
            self._again(words, int(slower))

    def _again(self, words: str, attempt: int) -> None:
        self.say(words, pace=self._attention.slower if attempt else 1.0)

    def _notices(self) -> bool:
        return bool(self._rng.random() < self._attention.notices)


def _bare(piece: Cut) -> str:
    return piece_words(piece.cut, piece.side, piece.count)


def _names(piece: Cut) -> tuple[str, ...]:
    """What the recorder may call the piece, with where it goes unless that is the usual place."""
    bound = f"{_bare(piece)} for {piece.destination}"
    return (bound,) if piece.elsewhere else (_bare(piece), bound)


def _is_aside(text: str) -> bool:
    """Whether something was told that is no answer to what was just said."""
    return text.startswith(("no weight for", "the "))  # a call before it; a device that is good again


def _from_list(text: str, waiting: list[Cut]) -> str:
    """The number of the piece in a list that was read out."""
    for each in text.split(". "):
        number, _, name = each.partition(", ")
        if any(name in _names(piece) for piece in waiting):
            return number
    return "none of these"


def _call(piece: Cut) -> str:
    """The piece as it is called when that cannot lean on the one before."""
    return _names(piece)[0] if piece.said == "same again" else piece.words()


def _confirmed(question: str, said: str) -> str:
    """Yes, when what was just told ("ledger that was left haunch") is asked back."""
    _, that_was, piece = said.partition(" that was ")
    return "yes" if that_was and question.startswith(piece) and question.endswith("yes or no?") else ""
