"""The two engines beyond the contract: rivals, shipped words, swapping, and missing libraries."""

from __future__ import annotations

import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import EngineUnavailableError, ModelError
from handsfree.speech.acoustic_files import MEANS_FILE, means_file, read_means
from handsfree.speech.grammar import Grammar
from handsfree.speech.jsgf import to_jsgf
from handsfree.speech.meaning import Call, Side
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.pocketsphinx_decoders import (
    INITIAL_CMN,
    MeanListener,
    PhraseDecoder,
    base_dictionary,
    model_folder,
)
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.ports import Recognition
from handsfree.speech.vosk_engine import VoskRecogniser
from handsfree.testing.making_sound import silence
from handsfree.testing.rehearsal.voices import RMS, SLT, Voice, speak
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

pytestmark = pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")


@cache
def engine() -> PocketSphinxRecogniser:
    return PocketSphinxRecogniser(shipped_lexicon(base_dictionary()))


def sound(text: str, voice: Voice = SLT) -> Samples:
    return np.concatenate([silence(0.25), speak(text, voice), silence(0.3)])


def heard(text: str, voice: Voice = SLT, alternatives: int = 3) -> Recognition:
    engine().begin()
    engine().feed(sound(text, voice))
    return engine().finish(alternatives)


def test_a_call_of_the_shipped_grammar_comes_with_its_meaning_and_rivals_that_are_calls() -> None:
    engine().use(shipped_vocabulary().listening())
    first, *rivals = heard("left haunch").hypotheses
    assert first.meaning == Call("haunch", Side.LEFT)
    assert rivals
    assert all(isinstance(rival.meaning, Call) and rival.meaning.cut != "haunch" for rival in rivals)


_SUMMED = (model_folder() / "en-us" / MEANS_FILE).read_bytes()
_MEANS = means_file(model_folder() / "en-us", read_means(model_folder() / "en-us" / MEANS_FILE))


@pytest.mark.parametrize(
    "damaged",
    [
        b"no means at all",
        _MEANS[:400_000],
        _MEANS + b"x" * 100,
        _MEANS[:-4_000] + b"\xff" * 4_000,  # no numbers
        _MEANS[:60],
        _SUMMED[:-4] + b"\0\0\0\0",
    ],
)
def test_a_voice_whose_file_is_damaged_is_told_and_the_program_goes_on(
    damaged: bytes, tmp_path: Path
) -> None:
    (tmp_path / MEANS_FILE).write_bytes(damaged)
    with pytest.raises(ModelError, match="Work this voice out again"):
        PocketSphinxRecogniser(shipped_lexicon(base_dictionary()), adapted=tmp_path)
    (tmp_path / MEANS_FILE).write_bytes(_MEANS)
    PocketSphinxRecogniser(shipped_lexicon(base_dictionary()), adapted=tmp_path)


def test_a_number_is_heard_as_it_was_said() -> None:
    engine().use(shipped_vocabulary().listening())
    assert heard("ledger tag four seven two", RMS).hypotheses[0].text == "ledger tag four seven two"


def test_a_sure_phrase_is_let_through_and_talk_is_not() -> None:
    engine().use(shipped_vocabulary().listening())
    assert heard("right shoulder").confidence > 0.5
    assert heard("did you watch the match on television last night").confidence < 0.5


def test_grammars_swap_back_and_forth_with_words_added_on_the_way() -> None:
    vocabulary = shipped_vocabulary()
    for _ in range(2):
        engine().use(vocabulary.resting())
        assert heard("ledger wake up").hypotheses[0].text == "ledger wake up"
        engine().use(Grammar.from_phrases("own", ["hello butcher", "good evening"]))
        assert heard("good evening").hypotheses[0].text == "good evening"
        engine().use(vocabulary.answering())
        assert heard("yes please").hypotheses[0].text == "yes please"


def test_more_grammars_than_are_kept_still_work() -> None:
    for number in range(30):
        word = ("haunch", "saddle", "liver")[number % 3]
        engine().use(Grammar.from_phrases(f"g{number}", [f"left {word}", f"right {word}", f"one {word}"]))
    engine().use(Grammar.from_phrases("g0", ["left haunch", "right haunch", "one haunch"]))
    assert heard("right haunch").hypotheses[0].text == "right haunch"


def test_a_reading_scores_the_same_in_the_whole_grammar_and_alone() -> None:
    """The library scores relative to the states alive; with all of them alive passes can be compared."""
    lexicon = shipped_lexicon(base_dictionary())
    decoder = PhraseDecoder()
    many = Grammar.from_phrases("many", ["left haunch", "right haunch", "saddle", "neck", "liver"])
    decoder.learn({word: lexicon.pronunciations(word) for word in many.words()})
    scores = []
    for grammar in (many, Grammar.from_phrases("one", ["left haunch"])):
        decoder.use(grammar)
        decoder.begin(INITIAL_CMN)
        decoder.feed(sound("left haunch"))
        decoder.end()
        assert decoder.text() == "left haunch"
        scores.append(decoder.score())
    # What is left is the prior of five equally likely phrases, ln 5, and what the beam cuts.
    assert scores[0] == pytest.approx(scores[1], abs=4.0)


def test_the_mean_of_an_utterance_is_mostly_its_own_and_nothing_is_left_of_the_one_before() -> None:
    listener = MeanListener()
    found = []
    for text in ("left haunch", "ledger close carcass", "left haunch"):
        listener.begin()
        listener.feed(sound(text))
        listener.end()
        found.append(listener.mean())
    assert found[0] == found[2] != found[1]


def test_a_louder_utterance_moves_its_mean_by_what_the_arithmetic_says() -> None:
    noise = np.random.default_rng(1).normal(0.0, 60.0, RATE_HZ * 3 // 2)
    quiet = noise + np.resize(speak("left haunch", SLT), len(noise)) / 4
    found = []
    for gain in (1.0, 2.0):
        listener = MeanListener()
        listener.begin()
        listener.feed(np.rint(gain * quiet).astype(np.int16))
        listener.end()
        found.append(float(listener.mean().split(",")[0]))
    # A gain of two adds 2 ln 2 to the log energy of each of 25 mel bands, so 2 ln 2 * sqrt(25) to the
    # zeroth term of their orthonormal cosine transform; four fifths of that are the utterance's own.
    assert found[1] - found[0] == pytest.approx(0.8 * 2 * np.log(2) * 5, rel=0.03)


def test_readings_carry_probabilities_that_leave_room_for_none_of_them() -> None:
    engine().use(shipped_vocabulary().listening())
    readings = heard("right shoulder").hypotheses
    chances = [reading.probability for reading in readings]
    assert all(chance is not None for chance in chances)
    assert sum(chance or 0.0 for chance in chances) <= 1.0 + 1e-9
    assert chances[0] == heard("right shoulder").confidence


@pytest.mark.parametrize("state", ["listening", "answering", "resting", "everything"])
def test_the_engine_itself_compiles_the_grammar_of_every_state(state: str) -> None:
    grammar = getattr(shipped_vocabulary(), state)()
    lexicon = shipped_lexicon(base_dictionary())
    decoder = PhraseDecoder()
    decoder.learn({word: lexicon.pronunciations(word) for word in grammar.words()})
    decoder.use(grammar)
    assert to_jsgf(grammar).startswith("#JSGF")


def test_nothing_is_printed_while_an_engine_is_made_and_used(capfd: pytest.CaptureFixture[str]) -> None:
    made = PocketSphinxRecogniser(shipped_lexicon(base_dictionary()))
    made.use(shipped_vocabulary().listening())
    made.begin()
    made.feed(sound("left haunch"))
    made.finish()
    captured = capfd.readouterr()
    assert (captured.out, captured.err) == ("", "")


@pytest.mark.parametrize(
    ("library", "make"),
    [
        ("pocketsphinx", "from handsfree.speech.pocketsphinx_decoders import model_folder; model_folder()"),
        (
            "vosk",
            "from handsfree.speech.vosk_engine import VoskRecogniser as V; V(None)",
        ),
    ],
)
def test_a_missing_library_is_said_with_the_command_that_installs_it(library: str, make: str) -> None:
    code = f"import sys; sys.modules[{library!r}] = None\n{make}"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert EngineUnavailableError.__name__ in done.stderr
    assert "pip install" in done.stderr


def test_a_folder_that_is_no_vosk_model_is_said(tmp_path: Path) -> None:
    pytest.importorskip("vosk", reason="vosk is not installed")
    with pytest.raises(ModelError, match="is no Vosk model"):
        VoskRecogniser(tmp_path)


def test_a_damaged_vosk_model_is_said(tmp_path: Path) -> None:
    pytest.importorskip("vosk", reason="vosk is not installed")
    (tmp_path / "am").mkdir()
    (tmp_path / "am" / "final.mdl").write_bytes(b"not a model")
    with pytest.raises(ModelError, match="cannot be loaded"):
        VoskRecogniser(tmp_path)
