"""The carcass in hand as pairing sees it: answered from the ledger's books and the cut plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from handsfree.ledger.books import Books, Carcass, Piece
from handsfree.pairing.ports import Nameless, Usual
from handsfree.reconciliation.account import account_of
from handsfree.reconciliation.instruments import ScaleData
from handsfree.reconciliation.learning import Share
from handsfree.reconciliation.plan import Expected, Plan, remaining
from handsfree.reconciliation.shares import Kind
from handsfree.speech.cutlist import Plan as CutPlan
from handsfree.speech.meaning import Call, Command, Side
from handsfree.speech.parser import meaning_of
from handsfree.speech.vocabulary import Vocabulary
from handsfree.usual_weights import UsualWeights


@dataclass(frozen=True, slots=True)
class CarcassFacts:
    """What was known of the carcass before the session began."""

    tag: str = ""
    species: str = ""
    sex: str = ""
    dressed_kg: Decimal | None = None
    skin: str = ""
    hot_or_cold: str = ""


def expected_pieces(plan: CutPlan) -> Plan:
    """A cut plan of the words as the pieces the balance expects."""
    return Plan(
        plan.name,
        tuple(
            Expected(
                piece.cut,
                piece.side.value if piece.side else "",
                piece.count,
                None if piece.share is None else piece.share / piece.count,
                piece.spread,
            )
            for piece in plan.pieces
        ),
    )


def with_containers(scales: Mapping[str, ScaleData], books: Books, carcass: Carcass) -> dict[str, ScaleData]:
    """What is known of each scale, and the container that stands on it: it may be counted as meat."""
    known = dict(scales)
    intervals = {piece.entered.scale: piece.entered.d_mg for piece in carcass.pieces.values()}
    for name, container in books.containers.items():
        d_mg = intervals.get(name, 0)
        scale = known.get(name) or (ScaleData(name, d_mg) if d_mg else None)
        if scale is not None:
            known[name] = replace(scale, containers_mg=(*scale.containers_mg, container.mass_mg))
    return known


#: The class of cuts that are called by number.
_COUNTED = "small"


class PlanShelf:
    """The cut plans of a vocabulary by name, made ready for the balance once each."""

    def __init__(self, vocabulary: Vocabulary, default: str = "") -> None:
        names = vocabulary.plan_names()
        self.default = default or (names[0] if names else "")
        self._plans = {name: expected_pieces(vocabulary.plan(name)) for name in names}
        if self.default:
            vocabulary.plan(self.default)  # an unknown name is told now, not in mid-carcass

    def plan_of(self, carcass: Carcass) -> Plan | None:
        """The plan this carcass is cut to; None when there is none or it is not on the list."""
        return self._plans.get(carcass.plan or self.default)

    def remaining(self, carcass: Carcass) -> tuple[Expected, ...]:
        """What its plan still expects."""
        plan = self.plan_of(carcass)
        return remaining(plan, account_of(carcass).standing()) if plan else ()


class BooksInHand:
    """`pairing.ports.CarcassInHand` over the books; always the state on disk."""

    def __init__(
        self,
        books: Books,
        plans: PlanShelf,
        vocabulary: Vocabulary,
        learned: Mapping[Kind, Share] | None = None,
    ) -> None:
        self._books = books
        self._plans = plans
        self._vocabulary = vocabulary
        self._usual = UsualWeights(plans.plan_of, vocabulary, learned)
        self._phrases = vocabulary.listening()

    @property
    def is_open(self) -> bool:
        """Whether a carcass is open, so that pieces can be entered."""
        return self._books.carcass is not None

    @property
    def has_begun(self) -> bool:
        """Whether its dressed weight or a first piece is in."""
        carcass = self._books.carcass
        return carcass is not None and (carcass.dressed is not None or bool(carcass.pieces))

    @property
    def lacks_dressed_weight(self) -> bool:
        """Whether a carcass is open whose dressed weight is not in."""
        return self._books.carcass is not None and self._books.carcass.dressed is None

    @property
    def tag(self) -> str | None:
        """The tag of the open carcass, empty where it has none yet; None where none is open."""
        return self._books.carcass.tag if self._books.carcass is not None else None

    @property
    def last_mass_mg(self) -> int | None:
        """Mass of the last piece that stands; None where there is none."""
        piece = self._books.last_piece() if self._books.carcass is not None else None
        return None if piece is None else piece.mass_mg

    def nameless(self) -> tuple[Nameless, ...]:
        """The standing pieces without a name, oldest first, with what was heard of each."""
        carcass = self._books.carcass
        standing = carcass.standing() if carcass is not None else ()
        return tuple(Nameless(p.seq, p.mass_mg, self._heard(p)) for p in standing if not p.named)

    def _heard(self, piece: Piece) -> tuple[tuple[Call, float], ...]:
        found = []
        for reading in piece.entered.readings:
            meaning = meaning_of(self._phrases, str(reading["heard"]))
            call = meaning.call if isinstance(meaning, Command) else meaning
            if isinstance(call, Call):
                found.append((call, float(reading["sound"])))
        return tuple(found)

    @property
    def direction(self) -> str:
        """How pieces are weighed now: "putting on" or "taking off"."""
        return self._books.direction

    def container_mg(self, scale: str) -> int | None:
        """Mass of the container known to stand on this scale, None when there is none."""
        container = self._books.containers.get(scale)
        return container.mass_mg if container else None

    def known_trays_mg(self) -> tuple[int, ...]:
        """Masses of the trays known from earlier, on whatever scale."""
        return tuple(sorted({tray.mass_mg for tray in self._books.trays if tray.mass_mg > 0}))

    def is_complete(self, call: Call) -> bool:
        """Whether the plan's pieces of this cut and side are all in already."""
        carcass = self._books.carcass
        if carcass is None or call.side is None:
            return False
        plan = self._plans.plan_of(carcass)
        planned: Counter[tuple[str, str]] = Counter()
        for item in plan.expected if plan else ():
            planned[item.cut, item.side] += item.count
        wanted = planned[call.cut, call.side.value]
        if not wanted:
            return False
        have = sum(
            piece.count
            for piece in carcass.standing()
            if (piece.cut, piece.side) == (call.cut, call.side.value)
        )
        return have + call.count > wanted

    def is_expected(self, call: Call) -> bool:
        """Whether the plan has such a piece, or there is no plan to say so."""
        carcass = self._books.carcass
        plan = self._plans.plan_of(carcass) if carcass is not None else None
        if plan is None or not call.cut:
            return True
        side = call.side.value if call.side else ""
        return any(item.cut == call.cut and item.side in {"", side} for item in plan.expected)

    def is_counted(self, call: Call) -> bool:
        """Whether several such pieces at once are no surprise: small cuts, or as many as the plan has."""
        carcass = self._books.carcass
        plan = self._plans.plan_of(carcass) if carcass is not None else None
        if plan is None or not call.cut or self._vocabulary.cut(call.cut).kind == _COUNTED:
            return True
        sides = {item.side for item in plan.expected} if call.side is None else {"", call.side.value}
        counts = [item.count for item in plan.expected if item.cut == call.cut and item.side in sides]
        return call.count <= sum(counts) or max(counts, default=0) > 1

    def goes_to(self, call: Call) -> str:
        """Where the called piece goes: as said, else by the cut list."""
        return self._vocabulary.destination_of(call)

    def outstanding(self) -> tuple[Call, ...]:
        """The pieces the plan still expects, a call each."""
        carcass = self._books.carcass
        due = self._plans.remaining(carcass) if carcass is not None else ()
        return tuple(Call(item.cut, Side(item.side) if item.side else None) for item in due)

    def usual(self, call: Call, supposed_mg: int | None = None) -> Usual | None:
        """What the called pieces usually weigh together; see `usual_weights.UsualWeights.usual`."""
        carcass = self._books.carcass
        return None if carcass is None else self._usual.usual(carcass, call, supposed_mg)


def lags_s(books: Books, numbers: Iterable[int]) -> list[float]:
    """Seconds between call and load of the pieces of these carcasses and those in hand, oldest first.

    Only of names that stood: a piece renamed or left unnamed may have been given another's call.
    """
    every = sorted({*numbers, *books.carcasses})
    carcasses = (books.by_number(number) for number in every)
    return [
        piece.entered.lag_ms / 1000
        for carcass in carcasses
        if carcass is not None
        for piece in carcass.standing()
        if piece.named and not piece.renamed and piece.entered.lag_ms is not None
    ]
