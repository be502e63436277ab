"""What a called piece of the carcass in hand usually weighs, with the dressed weight known or not."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import log

from handsfree.ledger.carcass import Carcass
from handsfree.pairing.latent_mass import CarcassMass, Evidence, believed_mass, usual_of
from handsfree.pairing.ports import Usual
from handsfree.reconciliation.learning import LEAST_LEARNED_SPREAD, Share
from handsfree.reconciliation.plan import Plan
from handsfree.reconciliation.shares import Kind, usual_share
from handsfree.speech.cutlist import Cut
from handsfree.speech.meaning import Call, Side
from handsfree.speech.vocabulary import Vocabulary

#: Least spread of ln(mass) of a called piece: what goes with a joint differs from larder to larder
#: (common practice, no source).
_LEAST_SPREAD = 0.35

#: ... and of a lot of dice, mince, trim or bone: it is as big as its tub, and the last one what is left
#: (common practice, no source).
_LEAST_LOT_SPREAD = 1.0
_LOT = "trim"
"""The class of cuts that are weighed in lots."""

#: Spread of ln(left / right) of one cut of one carcass. Sides of pork differed by about 8 %, put down
#: to the cutting (20 pigs, 1964, quoted from memory); a bench that is not a laboratory gets twice that.
_PAIR_SPREAD = 0.16

#: So many of its own standard deviations from the usual may the other side weigh, to be gone by; further
#: off it may well bear the wrong name, and would bring the wrong name on this side too. One in a hundred
#: rightly named ones is as far off by chance.
_ODD_SIDE = 2.5

#: Spread of a load that was probably the whole carcass: a hook, the head or the skin may hang with it.
_SUPPOSED_SPREAD = 0.05

#: What carcasses usually weigh: midway in the published larder weights of both sexes, and a spread that
#: takes in three quarters of the lightest and four thirds of the heaviest. Larder weights in kg: red hind
#: 40 to stag 85, fallow doe 22 to buck 60, sika hind 20 to stag 45, roe 12 to 18, muntjac 7 to 10 (from
#: memory); water deer like muntjac by their live weights, 11 to 18 (British Deer Society figures); lamb
#: 16 to 24 (common practice, no source).
_SPECIES = {
    "red deer": CarcassMass(55_000_000, 0.4),
    "fallow": CarcassMass(33_000_000, 0.45),
    "sika": CarcassMass(30_000_000, 0.4),
    "roe deer": CarcassMass(15_000_000, 0.3),
    "muntjac": CarcassMass(8_500_000, 0.3),
    "water deer": CarcassMass(8_500_000, 0.3),
    "lamb": CarcassMass(20_000_000, 0.3),
}
#: Of any kind: from a muntjac to a red stag within two standard deviations.
_ANY_CARCASS = CarcassMass(25_000_000, 0.7)


class UsualWeights:
    """Answers from the pieces on disk, the plan, the cut list and what the larder has learned.

    Args:
        plan_of: The cut plan of a carcass.
        vocabulary: The cut list.
        learned: The larder's own shares.
    """

    def __init__(
        self,
        plan_of: Callable[[Carcass], Plan | None],
        vocabulary: Vocabulary,
        learned: Mapping[Kind, Share] | None = None,
    ) -> None:
        self._plan_of = plan_of
        self._cuts = {cut.name: cut for cut in vocabulary.cutlist.cuts}
        self._learned = learned or {}
        self._believed: tuple[object, CarcassMass] | None = None

    def usual(self, carcass: Carcass, call: Call, supposed_mg: int | None = None) -> Usual | None:
        """What the called pieces usually weigh together.

        The other side's, once it is in and weighs itself as such a piece may; else the larder's own, the
        plan's or the cut list's share of the dressed weight, or, as long as that is missing, of what the
        pieces so far, the species and the load that was probably the carcass make of it. A spread that was
        not learned here is never less than `_LEAST_SPREAD`: joints are cut longer or shorter. None for cuts
        without a usual share, and for "same again".

        Args:
            carcass: The carcass in hand.
            call: The pieces.
            supposed_mg: A load that was probably the carcass.
        """
        cut = self._cuts.get(call.cut)
        if cut is None:
            return None
        by_share = self._by_share(carcass, call, cut, supposed_mg)
        other_mg = self._other_side_mg(carcass, call)
        if other_mg is not None:
            other = Usual(other_mg * call.count, _PAIR_SPREAD, "the other side")
            if by_share is None or _apart(other, by_share) <= _ODD_SIDE:
                return other
        return by_share

    def _by_share(self, carcass: Carcass, call: Call, cut: Cut, supposed_mg: int | None) -> Usual | None:
        """By the usual share of the dressed weight, or of what it is believed to be."""
        share, spread = self._share(carcass, call, cut)
        if share is None:
            return None
        if carcass.dressed is not None:
            return Usual(share * call.count * carcass.dressed.mass_mg, spread, "dressed weight")
        against = "pieces so far" if supposed_mg is None else "provisional dressed weight"
        return usual_of(self._mass(carcass, supposed_mg), share * call.count, spread, against=against)

    def _mass(self, carcass: Carcass, supposed_mg: int | None) -> CarcassMass:
        """The dressed mass as far as it is known, kept until a piece comes, goes or changes its name."""
        pieces = [piece for piece in carcass.standing() if piece.named and piece.mass_mg > 0]
        known = (carcass.number, carcass.species, supposed_mg, tuple(pieces))
        if self._believed is None or self._believed[0] != known:
            seen = [] if supposed_mg is None else [Evidence(supposed_mg, 1.0, _SUPPOSED_SPREAD)]
            for piece in pieces:
                cut = self._cuts.get(piece.cut)
                if cut is not None:
                    side = Side(piece.side) if piece.side else None
                    share, spread = self._share(carcass, Call(piece.cut, side, piece.count), cut)
                    if share is not None:
                        seen.append(Evidence(piece.mass_mg, share * piece.count, spread))
            prior = _SPECIES.get(carcass.species, _ANY_CARCASS)
            self._believed = known, believed_mass(prior, seen)
        return self._believed[1]

    def _share(self, carcass: Carcass, call: Call, cut: Cut) -> tuple[float | None, float]:
        """Usual share of one piece, and its spread: the larder's own once learned, else the plan's.

        The plan's comes before the cut's, for it says how the cut is taken.
        """
        learned = usual_share(self._learned, carcass.plan, carcass.species, carcass.sex, call.cut)
        if learned is not None:
            return learned.median, max(learned.spread, LEAST_LEARNED_SPREAD)
        least = _LEAST_LOT_SPREAD if cut.kind == _LOT else _LEAST_SPREAD
        plan = self._plan_of(carcass)
        side = call.side.value if call.side else ""
        for item in plan.expected if plan else ():
            if item.cut == call.cut and item.side in {"", side} and item.share is not None:
                return item.share, max(item.spread, least)
        return cut.share, max(cut.spread, least)

    def _other_side_mg(self, carcass: Carcass, call: Call) -> float | None:
        """Mean mass of one piece of this cut from the other side; None where it has not been cut."""
        if call.side is None:
            return None
        others = [
            piece
            for piece in carcass.standing()
            if piece.cut == call.cut and piece.side not in {"", call.side.value}
        ]
        pieces = sum(piece.count for piece in others)
        return sum(piece.mass_mg for piece in others) / pieces if pieces else None


def _apart(other: Usual, usual: Usual) -> float:
    """How many standard deviations the other side is from the usual."""
    return abs(log(other.median_mg / usual.median_mg)) / usual.sigma
