"""Proposals for unknown words: eSpeak NG's IPA as phones, held against CMUdict; confirmed words only."""

import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pocketsphinx
import pytest
from click.testing import CliRunner
from rapidfuzz.distance import Levenshtein

from handsfree.cli.words import word
from handsfree.errors import EngineUnavailableError, GrammarError
from handsfree.resources import grammar_folder
from handsfree.speech.espeak_phonemes import EspeakPhonemes
from handsfree.speech.ipa import read_ipa
from handsfree.speech.lexicon_file import load_lexicon, read_base
from handsfree.speech.own_words_writing import add_pronunciations
from handsfree.speech.phones import Pronunciation
from handsfree.speech.proposing import propose
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

CMUDICT = Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict"
OWN = Path(__file__).parents[3] / "fixtures" / "own_words.toml"

needs_espeak = pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")


def phone_error_rate(reference: dict[str, list[Pronunciation]], said: dict[str, Pronunciation]) -> float:
    """Phones put in, left out or exchanged against the nearest listed form, for a phone of it."""
    errors = phones = 0
    for text, ways in reference.items():
        nearest = min(ways, key=lambda way: Levenshtein.distance(way, said[text]))
        errors += Levenshtein.distance(nearest, said[text])
        phones += len(nearest)
    return errors / phones


# Worked out by hand from what each IPA sign means and the examples of CMUdict's own phone list.
@pytest.mark.parametrize(
    ("ipa", "phones"),
    [
        ("h_ˈɔː_n_tʃ", "HH AO N CH"),
        ("f_ˈɔ_r", "F AO R"),
        ("t_ˈɒ_p_s_aɪ_d", "T AA P S AY D"),
        ("s_ˈa_d_əl", "S AE D AH L"),
        ("d_ˈiə", "D IY AH"),
        ("d_ˈiə_r", "D IH R"),
        ("f_ˈɜː_ɹ_i", "F ER IY"),
        ("l_ˈɒ_x", "L AA K"),
        ("dʒ_ˈɪ_ɡ_ə_t", "JH IH G AH T"),
    ],
)
def test_ipa_becomes_the_phones_of_the_dictionary(ipa: str, phones: str) -> None:
    assert read_ipa(ipa).phones == tuple(phones.split())
    assert read_ipa(ipa).unknown == ()


def test_what_is_no_sound_of_english_is_set_aside() -> None:
    reading = read_ipa("k_ǃ_a_t")
    assert (reading.phones, reading.unknown) == (("K", "AE", "T"), ("ǃ",))
    assert read_ipa("").phones == ()


@needs_espeak
def test_proposals_agree_with_cmudict_on_five_hundred_of_its_words(
    record_property: Callable[[str, object], None],
) -> None:
    # With the American voice what is left is eSpeak's guess at names; the British voice has no R after
    # a vowel and other vowels, and must differ more. Shuffling the words against each other gives what
    # a mapping that knows nothing would score.
    base = read_base(CMUDICT)
    words = random.Random(20).sample(sorted(w for w in base if w.isalpha()), 500)
    reference = {text: list(base[text]) for text in words}
    rates = {}
    for voice in ("en-us", "en-gb-scotland", "en-gb"):
        ipa = EspeakPhonemes().ipa(words, voice)
        said = {text: read_ipa(one).phones for text, one in zip(words, ipa, strict=True)}
        assert [one for one in ipa if read_ipa(one).unknown] == []
        rates[voice] = phone_error_rate(reference, said)
    shifted = {text: said[other] for text, other in zip(words, words[1:] + words[:1], strict=True)}
    record_property("phone error rates", {voice: round(rate, 3) for voice, rate in rates.items()})
    assert phone_error_rate(reference, shifted) > 0.6
    assert rates["en-us"] < 0.13
    assert rates["en-us"] < rates["en-gb"] < 0.18
    assert rates["en-gb-scotland"] < 0.15


@needs_espeak
def test_shipped_trade_words_are_mostly_proposed_as_a_person_wrote_them() -> None:
    lexicon = shipped_lexicon(CMUDICT)
    words = sorted({w for name in ("venison", "lamb") for w in shipped_vocabulary(name).everything().words()})
    reference = {text: list(lexicon.pronunciations(text)) for text in words}
    ipa = {voice: EspeakPhonemes().ipa(words, voice) for voice in ("en-gb", "en-gb-scotland")}
    said = {}
    for place, text in enumerate(words):
        forms = propose(text, {voice: ipa[voice][place] for voice in ipa}).forms
        said[text] = min(
            (form.phones for form in forms),
            key=lambda way: min(Levenshtein.distance(way, known) for known in reference[text]),
        )
    assert phone_error_rate(reference, said) < 0.08


def test_a_word_may_be_said_several_ways_and_each_is_given_once() -> None:
    proposal = propose("chop", {"en-gb": "tʃ_ˈɒ_p", "en-gb-scotland": "tʃ_ˈɒ_p"})
    assert proposal.texts == ("CH AA P", "CH AO P")
    assert proposal.line() == '"chop" = ["CH AA P", "CH AO P"]'


def test_without_the_program_it_is_said_what_to_do() -> None:
    with pytest.raises(EngineUnavailableError, match="no-such-espeak is not installed") as error:
        EspeakPhonemes("no-such-espeak").ipa(["haunch"], "en-gb")
    assert "sounds like" in str(error.value)


@needs_espeak
def test_a_voice_that_is_not_there_is_named() -> None:
    with pytest.raises(EngineUnavailableError, match="xx-nowhere"):
        EspeakPhonemes().ipa(["haunch"], "xx-nowhere")


@pytest.mark.parametrize("text", ["", "[[h@]]", "41", "two words", "<break/>", "-v", "'"])
def test_signs_that_mean_something_else_to_the_program_never_reach_it(text: str) -> None:
    with pytest.raises(ValueError, match="only letters"):
        EspeakPhonemes().ipa([text], "en-gb")


def test_confirmed_words_are_used_and_the_rest_of_the_file_stays(tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(OWN.read_text(encoding="utf-8"), encoding="utf-8")
    add_pronunciations(file, {"gillie": ["G IH L IY"], "belay": ["B AH L EY"]})
    lexicon = load_lexicon(grammar_folder(), CMUDICT, own_file=file)
    assert lexicon.pronunciations("gillie") == (("G", "IH", "L", "IY"),)
    assert lexicon.pronunciations("bucos") == (("B", "UW", "K", "OW", "Z"),)
    assert "# An invented larder's habits." in file.read_text(encoding="utf-8")
    add_pronunciations(tmp_path / "new" / "own.toml", {"gillie": ["G IH L IY"]})
    assert load_lexicon(grammar_folder(), CMUDICT, tmp_path / "new" / "own.toml").pronunciations("gillie")


@pytest.mark.parametrize(("before", "phones"), [("pronunciation = 3\n", "G"), ("[cut\n", "G"), ("", "G QQ")])
def test_a_file_that_cannot_take_the_words_is_left_as_it_was(
    tmp_path: Path, before: str, phones: str
) -> None:
    file = tmp_path / "own.toml"
    file.write_text(before, encoding="utf-8")
    with pytest.raises(GrammarError):
        add_pronunciations(file, {"gillie": [phones]})
    assert file.read_text(encoding="utf-8") == before
    assert list(tmp_path.iterdir()) == [file]


@needs_espeak
def test_a_proposal_is_printed_and_only_added_when_asked_for(tmp_path: Path) -> None:
    config, own = tmp_path / "handsfree.toml", tmp_path / "own.toml"
    config.write_text(f'[speech]\nown_words = "{own}"\n', encoding="utf-8")
    own.write_text("", encoding="utf-8")
    run = CliRunner()
    shown = run.invoke(word, ["propose", "ghillie", "--config", str(config)], catch_exceptions=False)
    assert (shown.exit_code, own.read_text(encoding="utf-8")) == (0, "")
    assert '"ghillie" = ["G IH L IY"]' in shown.output
    added = run.invoke(word, ["propose", "ghillie", "41", "--add", "--config", str(config)])
    assert added.exit_code == 1  # figures are no word; the other one is written
    assert 'ghillie = ["G IH L IY"]' in own.read_text(encoding="utf-8")
