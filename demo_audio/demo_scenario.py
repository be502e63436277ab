"""The demo: one fallow doe in a larder that does not exist, from the rail to the last bone.

Everything here is invented: the larder, the tag, the day, the two people. The masses are realistic
shares of a dressed doe of 25.3 kg (haunches, saddle and fore end in the proportions of carcass
studies; left and right within 3 %). The right shank is never called or weighed: it went into the
wrong crate while nobody looked. The balance has to notice.
"""

from __future__ import annotations

from dataclasses import replace

from handsfree.testing.rehearsal.pace import Bench, Cut
from handsfree.testing.rehearsal.scenario import Scale, Scenario, Speaker

BENCH = Scale(d_g=5, max_kg=15, shape="status_comma")
RAIL = Scale(d_g=20, max_kg=60, shape="question_mark", settle_s=1.8, damping=0.35)
SPEAKERS = {
    "butcher": Speaker("flite", "awb"),
    "colleague": Speaker("flite", "slt", level_db=-6.0),
    "radio": Speaker("espeak-ng", "en-gb-x-rp", level_db=-14.0),
}
TRAY_G = 1186.0
PROCESS_LOSS = 0.004
"""Share of the dressed weight that becomes drip and saw dust."""

PRIME, DICE, MINCE, PET = "prime", "dice", "mince", "pet"
STOCK, WASTE = "stock", "waste"


def _pair(cut: str, left_g: float, right_g: float, destination: str = PRIME) -> tuple[Cut, Cut]:
    return Cut(cut, left_g, "left", 1, destination), Cut(cut, right_g, "right", 1, destination)


SHOULDERS = _pair("shoulder", 1402, 1366)
FORE_SHANKS = _pair("fore shank", 412, 403)
NECK = Cut("neck", 1532, destination=DICE, said="neck for dice")
BREASTS = (
    Cut("breast", 668, "left", destination=MINCE, said="left breast for mince"),
    Cut("breast", 652, "right", destination=MINCE, said="right breast for mince"),
)
FLANKS = (
    Cut("flank", 503, "left", destination=MINCE, said="left flank for mince"),
    Cut("flank", 517, "right", destination=MINCE),
)
FILLETS = _pair("fillet", 168, 164)
LOINS = (
    Cut("loin", 772, "left", destination=PRIME, said="left strip loin"),
    Cut("loin", 758, "right", destination=PRIME),
)
CHOPS = Cut("double chops", 828, count=4, destination=PRIME, said="four double chops")
SHANKS = (
    Cut("shank", 661, "left", destination=PRIME, said="left hind shank"),
    Cut("shank", 652, "right", destination=PRIME),
)
TOPSIDES = _pair("topside", 798, 781)
SILVERSIDES = _pair("silverside", 742, 729)
THICK_FLANKS = _pair("thick flank", 592, 604)
RUMPS = (
    Cut("rump", 515, "left", destination=PRIME),
    Cut("rump", 503, "right", destination=PRIME, said="rump right"),
)
DICED = (Cut("dice", 781, destination=DICE), Cut("dice", 738, destination=DICE, said="same again"))
MINCED = (Cut("mince", 667, destination=MINCE), Cut("mince", 612, destination=MINCE))
BURGER = Cut("burger trim", 472, destination=MINCE, said="sausage trim")
PET_TRIM = Cut("pet trim", 603, destination=PET)
FAT = Cut("fat", 398, destination=WASTE)
BONES = (
    Cut("bone", 1462, destination=STOCK, said="stock bone"),
    Cut("bone", 1388, destination=STOCK, said="same again"),
    Cut("bone", 1257, destination=STOCK, said="stock bone"),
)
BLOODSHOT = Cut("bloodshot", 138, destination=WASTE, said="bloodshot for waste")

PAIRS = (SHOULDERS, FORE_SHANKS, BREASTS, FLANKS, FILLETS, LOINS)
PAIRS += (SHANKS, TOPSIDES, SILVERSIDES, THICK_FLANKS, RUMPS)
SINGLES = (NECK, CHOPS, *DICED, *MINCED, BURGER, PET_TRIM, FAT, *BONES, BLOODSHOT)
EVERYTHING = (*(piece for pair in PAIRS for piece in pair), *SINGLES)
MISSING = SHANKS[1]
DRESSED_G = round(sum(piece.mass_g for piece in EVERYTHING) / (1 - PROCESS_LOSS))


def scenario() -> Scenario:
    """The whole story, timed."""
    bench = Bench({"bench": BENCH.d_g, "rail": RAIL.d_g}, seed=417)
    _begin(bench)
    _fore_end(bench)
    _saddle(bench)
    _left_haunch(bench)
    _right_haunch(bench)
    _rest(bench)
    _end(bench)
    return Scenario(
        title="one fallow doe",
        start="2026-11-17T08:10:00+00:00",
        duration_s=round(bench.now_s + 3.0, 1),
        acts=tuple(bench.acts),
        truth=tuple(bench.truth),
        speakers=SPEAKERS,
        scales={"bench": BENCH, "rail": RAIL},
        seed=417,
        plan="block",
    )


def _begin(bench: Bench) -> None:
    bench.wait(1.7)
    bench.note("carcass")
    bench.say("ledger new carcass")
    bench.wait(2.2)
    bench.say("ledger tag four one seven")
    bench.wait(2.2)
    bench.say("ledger fallow deer doe")
    bench.wait(1.7)
    bench.hang(DRESSED_G)
    bench.wait(1.0)
    bench.talk("Morning. Is that the last one from the hill?", "colleague")
    bench.wait(0.5)
    bench.talk("It is, and I want it finished before the van comes.")
    bench.wait(1.0)
    bench.tray(TRAY_G)


def _fore_end(bench: Bench) -> None:
    left, right = SHOULDERS
    bench.call_then_weigh(left)
    bench.wait(2.7)
    # The second shoulder is called left again; asked about it, the butcher says what it is.
    bench.say("left shoulder")
    bench.wait(0.9)
    bench.lay(right)
    bench.note_piece("question", right)
    bench.wait(5.6, 0.08)
    bench.say("right shoulder")
    bench.wait(2.5)
    bench.weigh_then_call(FORE_SHANKS[0])
    bench.wait(2.5)
    bench.weigh_then_call(FORE_SHANKS[1])
    bench.noise("dog", 1.8, -9.0)
    bench.wait(3.1)
    bench.call_then_weigh(NECK)
    bench.wait(2.7)
    bench.touch(760, 0.5)  # the knife hand on the rim of the pan
    bench.wait(1.4)
    bench.weigh_then_call(BREASTS[0])
    bench.wait(2.5)
    bench.call_then_weigh(BREASTS[1])
    bench.wait(2.5)
    # Called and weighed, then seen to need trimming: struck, trimmed, weighed again.
    untrimmed = replace(FLANKS[0], mass_g=FLANKS[0].mass_g + 61)
    bench.call_then_weigh(untrimmed, event="struck")
    bench.wait(2.2)
    bench.say("ledger strike that")
    bench.wait(1.4)
    bench.take(untrimmed.mass_g)
    bench.wait(3.4)
    bench.call_then_weigh(FLANKS[0])
    bench.wait(2.5)
    bench.call_then_weigh(FLANKS[1])
    bench.wait(2.0)
    bench.swap_tray()


def _saddle(bench: Bench) -> None:
    bench.noise("saw", 4.5, -5.0)
    bench.wait(5.2, 0.05)
    # The loins go to a crate of their own: weighed one by one in the tray, which is cleared.
    bench.call_then_weigh(LOINS[0], clear=True)
    bench.wait(1.7)
    bench.weigh_then_call(LOINS[1], clear=True)
    bench.wait(1.7)
    bench.call_then_weigh(FILLETS[0])
    bench.wait(2.4)
    bench.weigh_then_call(FILLETS[1])
    bench.wait(1.9)
    bench.noise("chops", 2.6, -6.0)
    bench.wait(3.4, 0.1)
    bench.call_then_weigh(CHOPS)
    bench.wait(2.7)
    bench.talk("Did you see the frost on the yard this morning?", "colleague")
    bench.wait(0.5)
    bench.talk("Aye, it was like glass down by the gate.")
    bench.wait(1.7)


def _left_haunch(bench: Bench) -> None:
    bench.call_then_weigh(TOPSIDES[0])
    bench.wait(2.7)
    # The wrong name for the right piece, and put right by voice.
    bench.weigh_then_call(Cut("silverside", THICK_FLANKS[0].mass_g, "left"), final=THICK_FLANKS[0])
    bench.wait(2.2)
    bench.note_piece("renamed", THICK_FLANKS[0])
    bench.say("ledger that was left thick flank")
    bench.wait(2.9)
    bench.call_then_weigh(SILVERSIDES[0])
    bench.wait(2.5)
    bench.weigh_then_call(RUMPS[0])
    bench.wait(2.4)
    bench.noise("clatter", 1.2, -8.0)
    bench.wait(1.7)
    bench.call_then_weigh(SHANKS[0])
    bench.wait(2.0)
    bench.swap_tray()


def _right_haunch(bench: Bench) -> None:
    bench.call_then_weigh(TOPSIDES[1])
    bench.wait(2.5)
    bench.call_then_weigh(SILVERSIDES[1])
    bench.wait(2.4)
    bench.dropout(3.0)
    bench.wait(1.4)
    bench.weigh_then_call(THICK_FLANKS[1])
    bench.wait(2.5)
    bench.call_then_weigh(RUMPS[1])
    bench.wait(2.2)
    bench.note_piece("missing", MISSING)
    bench.talk("Two more coming on Friday, the keeper says.", "colleague")
    bench.wait(0.6)
    bench.talk("Tell him to hang them well apart this time.")
    bench.wait(1.7)
    bench.say("ledger core temperature four point two")
    bench.wait(2.5)


def _rest(bench: Bench) -> None:
    bench.call_then_weigh(DICED[0])
    bench.wait(2.4)
    bench.call_then_weigh(DICED[1])
    bench.wait(2.4)
    bench.call_then_weigh(MINCED[0])
    bench.noise("water", 4.0, -16.0)
    bench.wait(2.5)
    bench.weigh_then_call(BURGER)
    bench.wait(2.2)
    bench.call_then_weigh(MINCED[1])
    bench.wait(2.2)
    bench.call_then_weigh(FAT)
    bench.wait(2.0)
    bench.swap_tray()
    bench.weigh_then_call(PET_TRIM, clear=True)
    bench.wait(1.5)
    bench.call_then_weigh(BONES[0], clear=True)
    bench.wait(1.7)
    bench.call_then_weigh(BONES[1], clear=True)
    bench.wait(1.2)
    bench.talk("And now the shipping forecast, issued by the weather centre.", "radio")
    bench.wait(1.0)
    bench.weigh_then_call(BONES[2], clear=True)
    bench.wait(1.5)
    bench.call_then_weigh(BLOODSHOT, clear=True)
    bench.wait(1.4)


def _end(bench: Bench) -> None:
    bench.say("ledger note bruised")
    bench.wait(2.0)
    bench.note("close")
    bench.say("ledger close carcass")
    bench.wait(1.7)
