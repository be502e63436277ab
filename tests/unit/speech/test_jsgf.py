"""JSGF as PocketSphinx itself reads it: it must accept what the grammar holds, and nothing else."""

import re
from pathlib import Path
from random import Random

import pocketsphinx
import pytest

from handsfree.speech.expressions import Repeated, Words
from handsfree.speech.grammar import Grammar
from handsfree.speech.jsgf import to_jsgf, to_phrases
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

MODEL = Path(pocketsphinx.get_model_path()) / "en-us"


def compiled(grammar: Grammar, folder: Path) -> pocketsphinx.FsgModel:
    dictionary = folder / "words.dict"
    lexicon = shipped_lexicon(MODEL / "cmudict-en-us.dict")
    dictionary.write_text(lexicon.dictionary_text(grammar.words()), encoding="utf-8")
    decoder = pocketsphinx.Decoder(hmm=str(MODEL / "en-us"), dict=str(dictionary), lm=None, loglevel="FATAL")
    decoder.add_jsgf_string("words", to_jsgf(grammar))
    return decoder.get_fsg("words")


@pytest.mark.parametrize("cutlist", ["venison", "lamb"])
def test_pocketsphinx_accepts_every_phrase_of_the_grammar(cutlist: str, tmp_path: Path) -> None:
    grammar = shipped_vocabulary(cutlist).everything()
    machine = compiled(grammar, tmp_path)
    drawn = [grammar.random_phrase(Random(seed)) for seed in range(300)]
    assert [phrase for phrase in drawn + to_phrases(grammar, 300) if not machine.accept(phrase)] == []


def test_pocketsphinx_refuses_what_the_grammar_refuses(tmp_path: Path) -> None:
    grammar = shipped_vocabulary().everything()
    machine = compiled(grammar, tmp_path)
    random = Random(7)
    agreed, refused = 0, 0
    for _ in range(600):
        said = grammar.random_phrase(random).split()
        word = random.choice(grammar.words())
        at = random.randrange(len(said))
        # One word exchanged, left out or put in: sometimes still a phrase, mostly not.
        bent = " ".join(random.choice([[*said[:at], word, *said[at + 1 :]], said[:at], [*said, word]]))
        if bent:
            assert bool(machine.accept(bent)) is grammar.contains(bent), bent
            agreed, refused = agreed + 1, refused + (not grammar.contains(bent))
    assert agreed > 400
    assert refused > 200


def test_taking_a_branch_out_compiles_too(tmp_path: Path) -> None:
    grammar = shipped_vocabulary().listening().without({"call:haunch"})
    assert grammar is not None
    machine = compiled(grammar, tmp_path)
    assert not machine.accept("left haunch")
    assert machine.accept("ledger that was left haunch")
    assert machine.accept("left shank")


def test_the_text_is_jsgf_with_shared_rules_written_once() -> None:
    # W3C Note "JSpeech Grammar Format", 5 June 2000: self-identifying header, grammar name, rules.
    text = to_jsgf(shipped_vocabulary().everything())
    lines = text.splitlines()
    assert lines[0] == "#JSGF V1.0 UTF-8 en;"
    assert lines[1] == "grammar everything;"
    assert lines[2].startswith("public <everything> = ")
    defined = re.findall(r"^(?:public )?<(\w+)> =", text, re.MULTILINE)
    assert len(defined) == len(set(defined))
    assert set(re.findall(r"<(\w+)>", text)) <= {*defined, "NULL"}
    assert defined.count("call") == 1
    assert len(text) < 6000


def test_a_list_of_other_alphabets_is_written_as_it_is() -> None:
    text = to_jsgf(Grammar.from_phrases("2 names", ["어깨 왼쪽", "don't"]))
    assert "grammar g_2_names;" in text
    assert "어깨 왼쪽 | don't" in text


def test_one_more_of_a_row_is_as_likely_as_the_grammar_says(tmp_path: Path) -> None:
    # JSGF 4.3.1: alternatives are weighed; a weighed one must stand in a rule that may go on with itself.
    grammar = Grammar("row", Repeated(Words(("seven",)), chance=0.000001))
    assert "(seven) (/0.999999000/ <NULL> | /0.000001000/ <again>)" in to_jsgf(grammar)
    machine = compiled(grammar, tmp_path)
    assert [bool(machine.accept(" ".join(["seven"] * count))) for count in (0, 1, 2, 5)] == [
        False,
        *[True] * 3,
    ]
    assert "(seven)+" in to_jsgf(Grammar("row", Repeated(Words(("seven",)))))
    assert "(seven)+" in to_jsgf(grammar, chances=False)
