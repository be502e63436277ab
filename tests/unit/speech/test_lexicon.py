"""Pronunciations: layers, sounds-like spellings, unknown words, and CMUdict as the outside check."""

from pathlib import Path

import pocketsphinx
import pytest

from handsfree.errors import GrammarError, UnknownWordError
from handsfree.resources import grammar_folder
from handsfree.speech.lexicon import Lexicon, read_layer
from handsfree.speech.lexicon_file import load_lexicon, read_base
from handsfree.speech.phones import PHONES
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

CMUDICT = Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict"
OWN = Path(__file__).parents[3] / "fixtures" / "own_words.toml"


@pytest.fixture
def lexicon() -> Lexicon:
    return shipped_lexicon(CMUDICT)


def test_the_trade_words_that_cmudict_lacks_are_supplied(lexicon: Lexicon) -> None:
    # Checked against CMUdict (135 166 lines, December 2024): these are missing there.
    lacking = [
        "haunch",
        "topside",
        "sika",
        "muntjac",
        "gralloch",
        "carcase",
        "tare",
        "offal",
        "sinew",
        "scrag",
    ]
    assert [word for word in lacking if word in read_base(CMUDICT)] == []
    assert lexicon.missing(lacking) == []


@pytest.mark.parametrize("cutlist", ["venison", "lamb"])
def test_every_word_of_the_shipped_grammars_can_be_said(cutlist: str, lexicon: Lexicon) -> None:
    words = shipped_vocabulary(cutlist).everything().words()
    assert lexicon.missing(words) == []
    lines = lexicon.dictionary_text(words).splitlines()
    assert {phone for line in lines for phone in line.split()[1:]} <= PHONES


def test_fillet_is_said_the_british_way_first(lexicon: Lexicon) -> None:
    # CMUdict gives only F AH L EY; the British form is FIL-it.
    assert read_base(CMUDICT)["fillet"] == [("F", "AH", "L", "EY")]
    assert lexicon.pronunciations("fillet")[0] == ("F", "IH", "L", "IH", "T")


def test_words_with_r_have_a_form_without_it(lexicon: Lexicon) -> None:
    for word in ("heart", "four", "quarter", "shoulder", "liver", "ledger", "core", "deer"):
        assert any("R" not in way and "ER" not in way for way in lexicon.pronunciations(word)), word


def test_a_higher_layer_replaces_a_lower_one() -> None:
    upper, lower = read_layer("neck N AH K\n", "upper"), read_layer("neck N EH K\nbone B OW N\n", "lower")
    lexicon = Lexicon([upper, lower], {"bone": [("B", "AA", "N")], "fat": [("F", "AE", "T")]})
    assert lexicon.pronunciations("neck") == (("N", "AH", "K"),)
    assert lexicon.pronunciations("Bone") == (("B", "OW", "N"),)
    assert lexicon.pronunciations("fat") == (("F", "AE", "T"),)


def test_a_word_may_sound_like_known_words_and_phones() -> None:
    layer = read_layer("sika = seek AH\nseek = seek  # the engine's own\n", "own")
    lexicon = Lexicon([layer], {"seek": [("S", "IY", "K")]})
    assert lexicon.pronunciations("sika") == (("S", "IY", "K", "AH"),)
    assert lexicon.pronunciations("seek") == (("S", "IY", "K"),)
    assert lexicon.dictionary_text(["sika"]) == "sika S IY K AH\n"


def test_other_ways_to_say_a_word_are_numbered_from_two() -> None:
    lexicon = Lexicon([read_layer("half HH AE F\nhalf(2) HH AA F\n", "own")], {})
    assert lexicon.dictionary_text(["half"]) == "half HH AE F\nhalf(2) HH AA F\n"


def test_unknown_words_are_all_named_with_what_to_do(lexicon: Lexicon) -> None:
    with pytest.raises(UnknownWordError) as error:
        lexicon.dictionary_text(["haunch", "zzyx", "qwrt"])
    assert "'zzyx', 'qwrt'" in str(error.value)
    assert "[sounds_like]" in str(error.value)
    assert "haunch" not in str(error.value)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("haunch HH AO1 N CH", "'haunch' uses AO1, not a phone"),
        ("haunch", "is no dictionary line"),
        ("neck N EH K\nneck(2) N EH K", "the same pronunciation twice"),
    ],
)
def test_a_faulty_line_is_named(line: str, said: str) -> None:
    number = line.count("\n") + 2
    with pytest.raises(GrammarError, match=rf"own\.dict:{number}: ") as error:
        read_layer("# comment\n" + line + "\n", "own.dict")
    assert said in str(error.value)


def test_sounding_like_unknown_words_or_like_itself_is_a_fault() -> None:
    layer = read_layer("aa = zzyx\nbb = cc\ncc = bb\n", "own.dict")
    found = Lexicon([layer], {}).check().found
    assert any("own.dict:1" in fault and "'zzyx'" in fault for fault in found)
    assert any("own.dict:2" in fault for fault in found)


def test_a_user_teaches_words_in_the_own_file() -> None:
    lexicon = load_lexicon(grammar_folder(), CMUDICT, own_file=OWN)
    assert lexicon.pronunciations("buco") == (("B", "UW", "K", "OW"),)
    assert lexicon.pronunciations("osso")[0] == ("OW", "S", "OW")
    assert lexicon.missing(["osso", "buco", "bucos", "haunch", "neck"]) == []


def test_a_missing_dictionary_says_which(tmp_path: Path) -> None:
    with pytest.raises(GrammarError, match=r"nowhere\.dict cannot be read"):
        load_lexicon(grammar_folder(), tmp_path / "nowhere.dict")
