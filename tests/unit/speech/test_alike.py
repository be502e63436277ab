"""Phrases that sound alike: distances against CMUdict, findings and advice on the shipped lists."""

from dataclasses import replace
from pathlib import Path

import pocketsphinx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import Levenshtein

from handsfree.resources import grammar_folder
from handsfree.speech.confusable import Spoken, alike_pairs, clearer_name, phones_apart, weighted_distance
from handsfree.speech.cutlist import Cut
from handsfree.speech.grammar_file import load_vocabulary
from handsfree.speech.inspection import check, list_phrases, try_phrase
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.lexicon_file import read_base
from handsfree.speech.meaning import Call, Side
from handsfree.speech.phone_confusions import CHEAPEST, exchange_cost
from handsfree.speech.phones import PHONES
from handsfree.speech.vocabulary import Vocabulary
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

CMUDICT = Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict"
OWN = Path(__file__).parents[3] / "fixtures" / "own_words.toml"

# Counted by hand on the phones of CMUdict without stress.
ONE_APART = ["roe/doe", "hide/hind", "bin/bone", "bin/shin", "chump/rump"]
TWO_APART = [
    "shank/flank", "skin/shin", "neck/rack", "buck/pluck", "trim/tray", "stag/steak", "steak/stew",
    "kid/kidney",
]  # fmt: skip


@pytest.mark.parametrize(
    ("pair", "apart"), [*((pair, 1) for pair in ONE_APART), *((pair, 2) for pair in TWO_APART)]
)
def test_words_are_as_many_phones_apart_as_counted_on_cmudict(pair: str, apart: int) -> None:
    base = read_base(CMUDICT)
    first, second = pair.split("/")
    assert phones_apart(base[first][0], base[second][0]) == apart
    assert weighted_distance(base[first][0], base[second][0]) <= apart


# Miller & Nicely 1955: in noise place is lost first, voicing and nasality last; so the readiest
# confusions are p-k, f-th, d-g and v-th, and p-b or m-b are rare.
@pytest.mark.parametrize(
    ("readily", "rarely"), [("P K", "P B"), ("F TH", "F V"), ("D G", "D T"), ("V DH", "V F"), ("M N", "M B")]
)
def test_what_listeners_confuse_in_noise_costs_less(readily: str, rarely: str) -> None:
    assert exchange_cost(*readily.split()) < 0.7 < exchange_cost(*rarely.split())


def test_vowels_made_close_together_cost_less() -> None:
    assert exchange_cost("EH", "AE") < exchange_cost("EH", "OW") <= exchange_cost("IY", "AA") == 1.0
    assert exchange_cost("IY", "S") == 1.0


def test_costs_are_a_distance() -> None:
    for one in PHONES:
        assert exchange_cost(one, one) == 0.0
        for other in PHONES - {one}:
            assert CHEAPEST <= exchange_cost(one, other) == exchange_cost(other, one) <= 1.0


def test_a_phone_put_in_or_left_out_costs_one() -> None:
    assert weighted_distance(["HH", "AY", "D"], ["HH", "AY", "N", "D"]) == 1.0
    assert weighted_distance([], ["N", "OW"]) == 2.0
    # P for K is the readiest confusion of all in the paper.
    assert weighted_distance(["K", "IH", "D"], ["P", "IH", "D"]) == CHEAPEST


@given(*[st.lists(st.sampled_from(sorted(PHONES)), max_size=8)] * 2)
def test_weighted_distance_lies_between_the_library_s_bounds(one: list[str], other: list[str]) -> None:
    plain = Levenshtein.distance(one, other)  # rapidfuzz
    weighted = weighted_distance(one, other)
    assert CHEAPEST * plain - 1e-9 <= weighted <= plain
    assert weighted == pytest.approx(weighted_distance(other, one))


def with_cut(vocabulary: Vocabulary, cut: Cut) -> Vocabulary:
    cuts = (*vocabulary.cutlist.cuts, cut)
    return Vocabulary(replace(vocabulary.cutlist, cuts=cuts), vocabulary.commands)


@pytest.mark.parametrize("cutlist", ["venison", "lamb"])
def test_the_shipped_grammars_have_no_faults(cutlist: str) -> None:
    findings = check(shipped_vocabulary(cutlist), shipped_lexicon(CMUDICT))
    assert [finding.what for finding in findings if finding.severity == "error"] == []
    # In the list of lamb "leg" comes near "yes", which only counts while a question is open.
    assert [finding.phrases for finding in findings] == ([("leg", "yes")] if cutlist == "lamb" else [])


def test_a_name_near_another_is_warned_of_with_a_clearer_name() -> None:
    # P for K is the readiest confusion of the paper; T and D differ in voicing alone.
    vocabulary = with_cut(
        with_cut(shipped_vocabulary(), Cut("cod", destination="prime")),
        Cut("pot", aliases=("pot roast",), destination="prime"),
    )
    findings = check(vocabulary, shipped_lexicon(CMUDICT))
    found = next(f for f in findings if set(f.phrases) == {"cod", "pot"})
    assert found.severity == "warning"
    assert "'pot roast' rather than 'pot'" in found.suggestion


def test_a_cut_one_phone_from_another_is_a_fault_with_the_word_to_blame() -> None:
    vocabulary = with_cut(shipped_vocabulary(), Cut("chump", destination="prime"))
    errors = [f for f in check(vocabulary, shipped_lexicon(CMUDICT)) if f.severity == "error"]
    assert [set(finding.phrases) for finding in errors] == [{"rump", "chump"}]
    assert "'rump' and 'chump' to blame" in errors[0].what
    assert errors[0].suggestion


def test_names_of_one_cut_may_sound_alike() -> None:
    lexicon = Lexicon([], read_base(CMUDICT))
    assert alike_pairs(lexicon, [Spoken("rump", "rump"), Spoken("chump", "rump")]) == []
    pair = alike_pairs(lexicon, [Spoken("neck roe", "one"), Spoken("neck doe", "two")])[0]
    assert (pair.blame, pair.phones, pair.too_alike) == (("roe", "doe"), 1, True)
    assert clearer_name(lexicon, ["chump", "silverside"], ["rump"]) == "silverside"
    assert clearer_name(lexicon, ["chump"], ["rump"]) is None


def test_a_word_without_pronunciation_is_a_fault() -> None:
    vocabulary = load_vocabulary(grammar_folder(), own_file=OWN)
    finding = check(vocabulary, shipped_lexicon(CMUDICT))[0]
    assert finding.severity == "error"
    assert set(finding.phrases) == {"belay", "buco", "bucos"}  # CMUdict has "osso"
    assert "[sounds_like]" in finding.suggestion


def test_the_engine_has_the_last_word_on_missing_words() -> None:
    vocabulary = shipped_vocabulary()
    findings = check(vocabulary, shipped_lexicon(CMUDICT), lambda words: [w for w in words if w == "sika"])
    assert findings[0].phrases == ("sika",)


def test_everything_that_may_be_said_is_listed() -> None:
    listed = {(row.kind, row.phrase, row.means) for row in list_phrases(shipped_vocabulary())}
    assert ("call", "hind shank", "shank") in listed
    assert ("call", "same again", "same again") in listed
    assert ("destination", "for stock pot", "stock") in listed
    assert ("command", "ledger scratch that", "strike") in listed
    assert ("command", "ledger dressed weight <number>", "dressed weight") in listed
    assert ("command", "ledger <species> <sex>", "describe") in listed
    assert ("answer", "yes", "yes") in listed
    assert ("note", "hair on the meat", "hair on meat") in listed


def test_a_phrase_can_be_tried_by_typing_it() -> None:
    vocabulary = shipped_vocabulary()
    good = try_phrase(vocabulary, "Left haunch for dice")
    assert good.accepted
    assert good.meanings == (Call("haunch", Side.LEFT, 1, "dice"),)
    assert good.key == "call:haunch"
    assert try_phrase(vocabulary, "ledger dressed weight 41.35").text.endswith("forty one point three five")
    assert try_phrase(vocabulary, "ledger tag 417").text == "ledger tag four one seven"
    bad = try_phrase(vocabulary, "lft haunhc")
    assert not bad.accepted
    assert bad.key is None
    assert "left haunch" in bad.suggestions
    assert try_phrase(vocabulary, "xylophone quartet").suggestions == ()
    assert not try_phrase(vocabulary, "").accepted
