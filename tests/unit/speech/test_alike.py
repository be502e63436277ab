"""Phrases that sound alike: distances against CMUdict, findings and advice on the shipped lists."""

from dataclasses import replace
from pathlib import Path

import pocketsphinx
import pytest

from handsfree.resources import grammar_folder
from handsfree.speech.confusable import Spoken, alike_pairs, clearer_name, phones_apart, weighted_distance
from handsfree.speech.cutlist import Cut
from handsfree.speech.grammar_file import load_vocabulary
from handsfree.speech.inspection import check, list_phrases, try_phrase
from handsfree.speech.lexicon import Lexicon
from handsfree.speech.lexicon_file import read_base
from handsfree.speech.meaning import Call, Side
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


def test_exchanging_like_phones_costs_half() -> None:
    assert weighted_distance(["P", "EH", "T"], ["B", "EH", "T"]) == 0.5
    assert weighted_distance(["P", "EH", "T"], ["P", "AE", "T"]) == 0.5
    assert weighted_distance(["R", "OW"], ["D", "OW"]) == 1.0
    assert weighted_distance(["HH", "AY", "D"], ["HH", "AY", "N", "D"]) == 1.0


def with_cut(vocabulary: Vocabulary, cut: Cut) -> Vocabulary:
    cuts = (*vocabulary.cutlist.cuts, cut)
    return Vocabulary(replace(vocabulary.cutlist, cuts=cuts), vocabulary.commands)


@pytest.mark.parametrize("cutlist", ["venison", "lamb"])
def test_the_shipped_grammars_have_no_faults(cutlist: str) -> None:
    findings = check(shipped_vocabulary(cutlist), shipped_lexicon(CMUDICT))
    assert [finding.what for finding in findings if finding.severity == "error"] == []


def test_known_rivals_of_the_shipped_list_are_warned_of_with_a_clearer_name() -> None:
    findings = check(shipped_vocabulary(), shipped_lexicon(CMUDICT))
    by_phrases = {frozenset(finding.phrases): finding for finding in findings}
    shank_or_flank = by_phrases[frozenset({"shank", "flank"})]
    assert shank_or_flank.severity == "warning"
    assert "'hind shank' rather than 'shank'" in shank_or_flank.suggestion


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
