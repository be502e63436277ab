"""How long pairing waits, and for what. Times are the rhythm of hand cutting at a bench."""

from __future__ import annotations

from dataclasses import dataclass, field

from handsfree.clock import NS_PER_S


@dataclass(frozen=True, slots=True)
class PairingSettings:
    """Waits and scores of the pairing stage.

    The waits were set by watching a bench: a name is given while the piece is lifted or just after
    the scale has settled (common practice, no source). Scores are natural logarithms.
    """

    call_before_ns: int = 12 * NS_PER_S
    """A call may come this long before the load begins to move."""
    call_after_ns: int = 12 * NS_PER_S
    """... or this long after the new load has settled."""
    settle_allowance_ns: int = 3 * NS_PER_S
    """A load that began to move in time may take this long to settle."""
    ask_after_ns: int = 4 * NS_PER_S
    """A settled weight without a call is asked about after this long."""
    ask_patience_ns: int = 6 * NS_PER_S
    """A question waits at most this long for a moment when nobody talks and no saw runs."""
    pause_ns: int = 1_500_000_000
    """A question also waits until nothing was said for so long: another call may follow at once."""
    question_open_ns: int = 9 * NS_PER_S
    """A question not answered by then lapses."""
    list_open_ns: int = 20 * NS_PER_S
    """... a list, which takes longer to read out, by then."""
    lists: int = 2
    """How often at most names are read out in a list for one weight."""
    list_reach: float = 3.5
    """What is less likely than the likeliest by more than e to this power is not read out."""
    unheard_sound: float = -4.0
    """What counts in such a list as the sound's log probability of a cut that is still to come and was not
    heard at all."""
    commit_after_ns: int = 2_500_000_000
    """A pair is committed at the latest this long after both halves arrived."""
    brief_ns: int = 700_000_000
    """A load that leaves again this soon after settling, uncalled, was a hand or a knife."""
    hold_instruction_ns: int = 6 * NS_PER_S
    """"dressed weight" and "tray" said before the scale has settled wait this long for it."""
    strike_again_ns: int = 2_500_000_000
    """"Strike that" begun so soon after a piece was struck is the same, said again: its answer, "struck" and
    the piece, takes so long to be said."""
    put_back_ns: int = 10 * NS_PER_S
    """What was taken from a tray and returns within this is the same piece."""
    sigma_before_s: float = 5.0
    """Spread of the time from call to load, call first."""
    sigma_after_s: float = 3.5
    """Spread of the time from settled load to call, weight first."""
    skip_call: float = -4.0
    """Score of leaving a call without a weight."""
    skip_change: float = -5.0
    """Score of leaving a weight without a call."""
    skip_asked: float = -2.5
    """... one that was asked about in vain, once another was laid down: its call was missed, as a rule. Of
    -3.5, -2.5 and -1.5 this put the most development pieces right, nobody answering, and none wrong
    (tests/benchmarks/pairing/rehearsed.py)."""
    skip_asked_first: float = -1.5
    """... the same where the butcher is known to name pieces before laying them (our own reckoning)."""
    answer_hold_ns: int = 3 * NS_PER_S
    """What is said to "what was that?" by a butcher who names pieces before laying them may be the next one's
    name: it waits so long for a load, which would begin to move some 1.3 s later and take one to settle."""
    went_on_ns: int = 2 * NS_PER_S
    """A load that begins to move so long after a question began, when it is over, was laid by one who ignores
    it: the next call names that load."""
    crossed_to_come: float = -4.0
    """Score of a call and a weight that both wait for another partner still to come."""
    may_be_tray: float = -3.0
    """Added for naming a load that is as heavy as a known tray and comes onto a bare pan: about one piece in
    fifty weighs so by chance, and most such loads are the tray (our own reckoning)."""
    tray_skipped: float = -0.1
    """Score of leaving such a load without a call."""
    out_of_turn: float = -4.0
    """Score of naming an earlier weight while a later one stands, or of two calls before two pieces."""
    complete_already: float = -3.0
    """Added when the plan's pieces of that name are all in."""
    clear_margin: float = 2.0
    """A pair this much better than every alignment without it is committed at once."""
    off_plan: float = -2.5
    """Added when the plan has no piece of that name: of twenty pieces one or two are cut off it, each any of
    some thirty cuts, where the plan expects about eight (our own reckoning)."""
    not_counted: float = -3.0
    """Added for several pieces at once where neither the plan nor the cut list counts them: a name misheard
    as "three flanks" of a carcass that has two (common practice, no source)."""
    sound_weight: float = 0.8
    """How much of the engine's own log probability counts: 1 believes its calibration. The gate was taught
    with as much talk as calls, so beside a weight it doubts too much. Of some 165 development pieces the
    truth had the highest likelihood with 0.6 to 0.8, by the engine alone as by three ears
    (tests/benchmarks/pairing/rehearsed.py prints it)."""
    odd_weight: float = 0.03
    """Share of pieces that weigh what nobody would expect of their name (common practice, no source)."""
    misheard_share: float = 0.5
    """How much of what was none of the readings is taken for a piece of the plan, called but heard as
    something else; the rest weighs anything (common practice, no source)."""
    accept: float = 0.87
    """From this probability on, sound, plan and weight together, a reading is taken unasked."""
    heard_least: float = 0.05
    """A reading less likely than this by sound alone is never taken unasked, whatever the weight says."""
    close_score: float = 0.02
    """Log likelihood per frame by which a rival reading is e times less likely, for engines that give no
    probabilities."""
    doubtful_least: float = 0.03
    """A call refused by the gate with at least this confidence is remembered as doubtful."""
    short_call_clear: float = 0.8
    """A call let through by the gate with less than this is doubtful all the same when it is no longer than a
    thud (`thud_longest_ns`): what lands on the pan or is taken off it sounds like "bone"."""
    doubtful_tray: float = 0.15
    """"Tray" refused by the gate with at least this confidence is done while a weight waits uncalled."""
    doubtful_command: float = 0.1
    """A command refused by the gate with at least this confidence is remembered: said again, it is meant."""
    insists_within_ns: int = 20 * NS_PER_S
    """... if that begins within this."""
    doubtful_tag: float = 0.15
    """A tag refused by the gate is asked about, of a carcass that has none, when all such readings together
    are at least this likely."""
    next_tag: float = 0.05
    """The next tag is asked about if it is at least this likely among what those denied leave."""
    next_tags: int = 2
    """So many more are asked about after one telling and a "no", then it must be told again ..."""
    tags_denied: int = 4
    """... and after so many noes of a carcass only what is told again is asked about, nothing after it."""
    tag_again_ns: int = 30 * NS_PER_S
    """A tag told again within this was heard wrong, as a rule."""
    doubtful_answer: float = 0.3
    """An answer refused by the gate with at least this confidence is taken while a question waits for it: a
    reply is far likelier then than the gate was taught with."""
    doubtful_answer_lead: float = 3.0
    """... if it is so many times likelier than any other reading."""
    suggestion_lead: float = 0.7
    """A cut that was not heard is offered when the weight is e to this power likelier for it than for any
    other that is still to come."""
    reply_least_ns: int = 600_000_000
    """What is said to "what was that?" and not understood has a name offered, if it lasted this long."""
    tray_among: float = 0.01
    """A load on a bare pan is asked about as a tray when that is so likely among the readings of its call."""
    weight_waiting_odds: float = 10.0
    """How much likelier speech beside a weight is a call than the gate alone says: the gate was taught
    with as much talk as calls, at the block there is one call a weight and far less talk (common
    practice, no source)."""
    thud: float = -2.5
    """Added for a short doubtful sound as a load lands: it may be the piece itself, hitting the pan."""
    thud_longest_ns: int = 700_000_000
    """... no longer than this, the quarter of a second before it (pre-roll) counted."""
    thud_near_ns: int = 300_000_000
    """... and this near to the moment the load began to move."""
    doubtful_accept: float = 0.75
    """From this probability on, the weight taken into account, a doubtful call names the piece."""
    doubtful_ask: float = 0.5
    """From this probability on the butcher is asked; below it the call stays refused."""
    answer_ask: float = 0.15
    """... and below this one, where it answers "what was that?": then something was meant."""
    offer_least: float = 0.25
    """Before "what was that?" is asked, a doubtful call at least this likely is offered instead, if the
    weight does not speak against it."""
    offer_weight: float = 1.5
    """... or one heard however faintly, when the weight is e to this power likelier for it than for any."""
    offer_sound: float = 0.5
    """How much of the sound's own log probability counts for what is offered, where no reading is likely by
    sound: what is drowned in noise is misheard alike each time, and the weight is not."""
    clear_sound: float = 0.8
    """... which is below this probability."""
    faint_count: float = -2.0
    """Added to what is offered when it is several pieces at once: a count makes any cut weigh right."""
    earlier_saying: float = 0.5
    """Weight of what was heard first, when a call is said again; the later saying has the rest."""
    doubtful_renaming: float = 0.6
    """"That was" refused by the gate is heard when all such readings together are at least this likely:
    only the name is in doubt, and that is asked."""
    unlikely_sigma: float = 4.0
    """A weight this many standard deviations from what the cut usually weighs is asked about."""
    clear_weight: float = 1.5
    """A cut said while others are offered answers the question when the weight is e to this power likelier
    for it than for any of those; else it may be the next piece that is called."""
    questions: bool = True
    """Whether the butcher is asked; if not, what would be asked about is left unnamed."""
    go_over: bool = True
    """Whether pieces that went in without a name are gone over before a carcass is closed."""
    go_over_pause_ns: int = 2_500_000_000
    """The next question then waits so long after an answer: the name read back may be put right."""
    go_over_questions: int = 3
    """How often at most one piece is then asked about."""
    go_over_ignored: int = 2
    """After so many of those questions left alone the carcass is closed."""
    rival_least: float = 0.05
    """A rival reading at least this likely, sound, plan and weight together, is offered in the question."""
    same_load_intervals: int = 2
    """Two loads within this many scale intervals d are the same load."""
    carcass_scales: frozenset[str] = field(default_factory=lambda: frozenset({"rail"}))
    """Instruments that weigh whole carcasses; a load on them is never taken for a piece."""
