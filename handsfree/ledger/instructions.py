"""Carries out spoken commands: the bodies each one enters. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from math import hypot, sqrt

from handsfree.errors import EntryError
from handsfree.ledger import entries as e
from handsfree.ledger.bench import ButcherSet
from handsfree.ledger.books import Books
from handsfree.ledger.carcass import Carcass, CarcassState, Piece, PlanSet
from handsfree.ledger.naming import in_hand, rename, resolve
from handsfree.mass import to_mg
from handsfree.pairing.messages import Instruction
from handsfree.speech.meaning import Call, Command, Verb
from handsfree.speech.numbers import words_for
from handsfree.weighing.messages import Basis, Plateau

#: Name of the instrument that carcasses hang from, preferred for a dressed weight.
RAIL = "rail"

DestinationOf = Callable[[Call], str]
Handler = Callable[[Instruction, Books, DestinationOf], list[e.Body]]


def carry_out(instruction: Instruction, books: Books, destination_of: DestinationOf) -> list[e.Body]:
    """The bodies to enter for one command; none for those that only ask or only concern listening.

    Closing a carcass needs its balance, another butcher a name; both are `posting.post`'s.

    Raises:
        EntryError: It makes no sense as things stand, in words fit to be said aloud.
    """
    handler = _HANDLERS.get(instruction.command.verb)
    return handler(instruction, books, destination_of) if handler else []


def change_of_butcher(
    instruction: Instruction, books: Books, butchers: Mapping[int, str]
) -> e.ButcherChanged:
    """The entry for another butcher at the bench.

    Raises:
        EntryError: Nobody has this number, or that butcher is there already.
    """
    number = instruction.command.butcher
    name = butchers.get(number, "")
    spoken = words_for(Decimal(number))
    if not name:
        raise EntryError(f"there is no butcher {spoken}")
    now = books.bench.butcher
    if now is not None and (now.number, now.name) == (number, name):
        raise EntryError(f"butcher {spoken}, {name}, is at the bench already")
    return e.ButcherChanged(number, name, heard=instruction.heard)


def spoken_mass(number: Decimal) -> tuple[int, float]:
    """Mass and standard uncertainty, in milligrams, of a number of kilograms said aloud.

    A number said to the last decimal q may be off by up to q/2 either way: u = q/sqrt(12)
    (JCGM 100:2008, F.2.2.1).
    """
    exponent = number.as_tuple().exponent
    places = -exponent if isinstance(exponent, int) and exponent < 0 else 0
    return to_mg(number, "kg"), float(to_mg(Decimal(1).scaleb(-places), "kg")) / sqrt(12)


def net_of_container(plateau: Plateau, books: Books) -> tuple[int, float]:
    """What lies on the scale beside the container known to stand there: milligrams and their u.

    A scale that shows net has taken its container off already.
    """
    container = books.containers.get(plateau.scale)
    if container is None or plateau.basis is Basis.NET:
        return plateau.value_mg, plateau.u_mg
    return plateau.value_mg - container.mass_mg, hypot(plateau.u_mg, container.u_mg)


def _new_carcass(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    return [e.CarcassOpened(books.next_number, tag=instruction.command.digits)]


def _tag(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    if not instruction.command.digits:
        raise EntryError("no tag number was heard")
    return [e.CarcassDescribed(in_hand(books).number, tag=instruction.command.digits)]


def _describe(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    command = instruction.command
    if not command.species and not command.sex:
        raise EntryError("no species was heard")
    return [e.CarcassDescribed(in_hand(books).number, species=command.species, sex=command.sex)]


def _plan(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    carcass, plan = in_hand(books), instruction.command.plan
    if not plan:
        raise EntryError("no plan was heard")
    if plan == carcass.plan:
        raise EntryError(f"the plan is {plan} already")
    return [e.PlanChanged(carcass.number, plan, heard=instruction.heard)]


def _dressed_weight(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    carcass = in_hand(books)
    number = instruction.command.number
    if number is not None:
        mass_mg, u_mg = spoken_mass(number)
        if mass_mg <= 0:
            raise EntryError("a dressed weight must be more than nothing")
        said = instruction.heard or f"{number} kg"
        return [e.DressedWeightTaken(carcass.number, mass_mg, u_mg, d_mg=0, scale="spoken", indication=said)]
    loaded = [plateau for plateau in instruction.standing if net_of_container(plateau, books)[0] > 0]
    if not loaded:
        raise EntryError("nothing lies still on the scale")
    plateau = next((p for p in loaded if p.scale == RAIL), loaded[0])
    mass_mg, u_mg = net_of_container(plateau, books)
    return [e.DressedWeightTaken(carcass.number, mass_mg, u_mg, plateau.d_mg, plateau.scale, plateau.text)]


def _park(_instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    return [e.CarcassParked(in_hand(books).number)]


def _resume(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    digits = instruction.command.digits
    carcass = _tagged(digits, books) if digits else _only_parked(books)
    if carcass.number == books.current:
        raise EntryError(f"{carcass.title()} is already open")
    return [e.CarcassResumed(carcass.number)]


def _tagged(digits: str, books: Books) -> Carcass:
    carcass = books.unfinished_by_tag(digits) or books.by_tag(digits)
    if carcass is None:
        raise EntryError(f"there is no carcass {digits}")
    return carcass


def _only_parked(books: Books) -> Carcass:
    parked = [c for c in books.carcasses.values() if c.state is CarcassState.PARKED]
    if not parked:
        raise EntryError("no carcass is parked")
    if len(parked) > 1:
        raise EntryError("more than one carcass is parked; say the tag")
    return parked[0]


def _strike(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    if instruction.piece is not None:
        return [e.EntryReversed(_standing(instruction.piece, books).seq, reason=instruction.heard)]
    swap = None if instruction.pieces_only else books.bench.last_change()
    if swap is None:
        in_hand(books)
    change = None if instruction.pieces_only else books.last_plan_change()
    last = [each.seq for each in (books.last_piece(), change, swap) if each is not None]
    if not last:
        raise EntryError("there is nothing to strike")
    return [e.EntryReversed(max(last), reason=instruction.heard or Verb.STRIKE.value)]


def _standing(seq: int, books: Books) -> Piece:
    piece = books.piece(seq)
    if piece.struck:
        raise EntryError("that piece is struck")
    return piece


def _put_back(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    swaps = [seq for seq in _reversals(books.bench.changes.values(), books) if seq > books.bench.since]
    carcass = books.carcass if swaps else in_hand(books)
    reversals = swaps
    if carcass is not None:
        reversals = [*swaps, *_reversals([*carcass.pieces.values(), *carcass.plans.values()], books)]
    if not reversals:
        raise EntryError("there is nothing to put back")
    return [e.EntryReversed(max(reversals), reason=instruction.heard or Verb.PUT_BACK.value)]


def _reversals(made: Iterable[Piece | PlanSet | ButcherSet], books: Books) -> list[int]:
    found = (books.reversal_of(each.seq) for each in made if each.struck)
    return [seq for seq in found if seq is not None]


def _that_was(instruction: Instruction, books: Books, destination_of: DestinationOf) -> list[e.Body]:
    carcass = in_hand(books)
    last = books.last_piece() if instruction.piece is None else _standing(instruction.piece, books)
    piece, call = last, instruction.command.call
    if piece is None:
        raise EntryError("there is no piece to rename")
    if call is None:
        raise EntryError("no cut was heard")
    call = resolve(call, carcass, but_not=piece.seq)
    return [rename(piece, call, destination_of, heard=instruction.heard, reason=Verb.THAT_WAS.value)]


def _tray(instruction: Instruction, _books: Books, _: DestinationOf) -> list[e.Body]:
    # The pan, not the rail: a tray stands on a bench scale, unless the rail is all there is.
    standing = sorted(instruction.standing, key=lambda plateau: plateau.scale == RAIL)
    if not standing:
        raise EntryError("nothing lies still on the scale")
    pan = standing[0]
    if pan.value_mg < 0:
        raise EntryError("the scale shows less than nothing")
    return [e.ContainerSet(pan.scale, pan.value_mg, pan.text, pan.u_mg)]


def _turn(instruction: Instruction, _books: Books, _: DestinationOf) -> list[e.Body]:
    return [e.WeighingTurned(instruction.command.verb.value)]


def _core_temperature(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    return [e.TemperatureNoted(in_hand(books).number, "core", _degrees(instruction.command))]


def _steriliser(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    return [e.TemperatureNoted(books.current, "steriliser", _degrees(instruction.command))]


def _degrees(command: Command) -> str:
    if command.number is None:
        raise EntryError("no temperature was heard")
    return format(command.number, "f")


def _note(instruction: Instruction, books: Books, _: DestinationOf) -> list[e.Body]:
    if not instruction.command.note:
        raise EntryError("no note was heard")
    return [e.NoteMade(books.current, instruction.command.note)]


_HANDLERS: dict[Verb, Handler] = {
    Verb.NEW_CARCASS: _new_carcass,
    Verb.TAG: _tag,
    Verb.DESCRIBE: _describe,
    Verb.PLAN: _plan,
    Verb.DRESSED_WEIGHT: _dressed_weight,
    Verb.PARK_CARCASS: _park,
    Verb.RESUME: _resume,
    Verb.STRIKE: _strike,
    Verb.THAT_WAS: _that_was,
    Verb.PUT_BACK: _put_back,
    Verb.TRAY: _tray,
    Verb.TAKING_OFF: _turn,
    Verb.PUTTING_ON: _turn,
    Verb.CORE_TEMPERATURE: _core_temperature,
    Verb.STERILISER: _steriliser,
    Verb.NOTE: _note,
}
"""Verbs that are not here enter nothing: they ask (read back, what remains, total), concern
listening (rest, wake), need more than the books (close carcass, butcher) or reach the ledger as a piece
(weight)."""
