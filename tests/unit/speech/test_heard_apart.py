"""Names played to the engine: what is counted as a confusion, and which other name is advised."""

from dataclasses import replace
from pathlib import Path

import pocketsphinx
import pytest

from handsfree.errors import EngineUnavailableError
from handsfree.speech.confusable import Spoken, ways_to_say, weighted_distance
from handsfree.speech.cutlist import Cut
from handsfree.speech.heard_apart import Playing, confusions, farthest, phrases_to_play
from handsfree.speech.inspection import TRADE_SYNONYMS, confusion_findings
from handsfree.speech.vocabulary import Vocabulary
from handsfree.testing.rehearsal.voices import ESPEAK_GB, SLT, Voice, installed
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary
from handsfree.wiring.listening_check import play

CMUDICT = Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict"
SHANK, FLANK = Spoken("shank", "call:shank"), Spoken("flank", "call:flank")


def heard(spoken: Spoken, voice: str, text: str, owner: str) -> Playing:
    return Playing(spoken, voice, "quiet", text, owner)


def test_a_confusion_is_counted_both_ways_and_is_real_from_two_voices_on() -> None:
    # By hand: shank was played four times, taken for flank by two voices, not heard once.
    found = confusions(
        [
            heard(SHANK, "one", "flank", "call:flank"),
            heard(SHANK, "two", "flank", "call:flank"),
            heard(SHANK, "two", "shank", "call:shank"),
            heard(SHANK, "three", "", ""),
            heard(FLANK, "one", "shank", "call:shank"),
            heard(FLANK, "two", "flank", "call:flank"),
        ]
    )
    first, second = found
    assert (first.spoken, first.voices, first.times, first.played, first.back) == (
        SHANK,
        ("one", "two"),
        2,
        4,
        1,
    )
    assert first.real
    assert (second.spoken, second.times, second.played, second.back, second.real) == (FLANK, 1, 2, 2, False)


def test_another_name_of_the_same_cut_is_no_confusion() -> None:
    assert confusions([heard(SHANK, "one", "hind shank", "call:shank")]) == []


def test_the_advised_name_is_the_farthest_from_everything_else_on_the_list() -> None:
    vocabulary, lexicon = shipped_vocabulary(), shipped_lexicon(CMUDICT)
    playings = [heard(SHANK, voice, "flank", "call:flank") for voice in ("one", "two")]
    (finding,) = confusion_findings(vocabulary, lexicon, playings)
    assert finding.severity == "error"
    assert finding.phrases == ("shank", "flank")
    assert "say 'hind shank' instead" in finding.suggestion or "knuckle end" in finding.suggestion
    (alone,) = confusion_findings(vocabulary, lexicon, playings[:1])
    assert alone.severity == "warning"


def test_the_farthest_name_is_found_as_by_trying_them_all() -> None:
    lexicon = shipped_lexicon(CMUDICT)
    rivals = ["flank", "neck", "rack"]
    names = ["shank", "silverside", "frank"]

    def nearest(name: str) -> float:
        return min(
            weighted_distance(one, other)
            for rival in rivals
            for other in ways_to_say(lexicon, rival)
            for one in ways_to_say(lexicon, name)
        )

    assert farthest(lexicon, names, rivals) == ("silverside", nearest("silverside"))
    assert nearest("silverside") == max(map(nearest, names))
    assert farthest(lexicon, ["zzyx"], rivals) is None
    assert farthest(lexicon, names, []) is None


@pytest.mark.parametrize("cutlist", ["venison", "lamb"])
def test_only_names_with_a_near_rival_are_played(cutlist: str) -> None:
    vocabulary, lexicon = shipped_vocabulary(cutlist), shipped_lexicon(CMUDICT)
    phrases = phrases_to_play(vocabulary, lexicon)
    assert {"rack", "neck"} <= {one.phrase for one in phrases}
    assert "silverside" not in {one.phrase for one in phrases}
    grammar = vocabulary.everything()
    assert all(grammar.key_of(one.phrase) == one.owner for one in phrases)


def test_every_synonym_can_be_said() -> None:
    texts = [text for texts in TRADE_SYNONYMS.values() for text in texts]
    assert shipped_lexicon(CMUDICT).missing(word for text in texts for word in text.split()) == []


def test_a_name_that_another_cut_has_already_is_never_advised() -> None:
    vocabulary, lexicon = shipped_vocabulary(), shipped_lexicon(CMUDICT)
    playings = [heard(SHANK, voice, "flank", "call:flank") for voice in ("one", "two")]
    (finding,) = confusion_findings(vocabulary, lexicon, playings, {"shank": ("fore shank", "silverside")})
    assert "say 'hind shank' instead" in finding.suggestion


@pytest.mark.skipif(not (installed(ESPEAK_GB) and installed(SLT)), reason="espeak-ng or flite not installed")
def test_words_that_sound_the_same_are_caught_by_listening() -> None:
    # "hart" is said as "heart": whichever the engine prefers, the other is taken for it by every voice.
    shipped = shipped_vocabulary()
    cuts = (*shipped.cutlist.cuts, Cut("hart", destination="prime"))
    vocabulary = Vocabulary(replace(shipped.cutlist, cuts=cuts), shipped.commands)
    lexicon = shipped_lexicon(CMUDICT)
    playings = list(play(vocabulary, lexicon, voices=(ESPEAK_GB, SLT), limit=0.1))
    assert {one.spoken.phrase for one in playings} == {"hart", "heart"}
    assert len(playings) == 2 * 2
    findings = confusion_findings(vocabulary, lexicon, playings)
    assert any({"hart", "heart"} == set(finding.phrases) for finding in findings)


def test_without_a_voice_it_is_said_what_to_install() -> None:
    nobody = (Voice("piper", "/nowhere/voice.onnx"),)
    with pytest.raises(EngineUnavailableError, match="apt-get install espeak-ng"):
        list(play(shipped_vocabulary(), shipped_lexicon(CMUDICT), voices=nobody))
