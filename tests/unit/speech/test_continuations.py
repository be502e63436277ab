"""The grammar as an automaton says the same as the grammar itself."""

from __future__ import annotations

from random import Random

import pytest

from handsfree.speech.continuations import Continuations
from handsfree.speech.expressions import Alternatives, Optional, Repeated, Sequence, words
from handsfree.speech.grammar import Grammar
from handsfree.testing.shipped_words import shipped_vocabulary


def accepts(automaton: Continuations, text: str) -> bool:
    state = automaton.start
    for word in text.split():
        state = automaton.after(state, word)
    return automaton.may_end(state)


@pytest.mark.parametrize("species_list", ["venison", "lamb"])
def test_every_phrase_of_the_shipped_grammars_is_walked_to_its_end(species_list: str) -> None:
    grammar = shipped_vocabulary(species_list).everything()
    automaton = Continuations(grammar)
    draw = Random(4)
    for _ in range(300):
        phrase = grammar.random_phrase(draw)
        assert accepts(automaton, phrase), phrase


def test_what_the_automaton_walks_to_an_end_is_a_phrase() -> None:
    grammar = shipped_vocabulary().listening()
    automaton = Continuations(grammar)
    draw = Random(5)
    ended = 0
    for _ in range(200):
        state, said = automaton.start, []
        while (following := automaton.words(state)) and len(said) < 7:
            said.append(draw.choice(following))
            state = automaton.after(state, said[-1])
            assert automaton.may_end(state) == grammar.contains(" ".join(said)), said
            ended += automaton.may_end(state)
    assert ended > 200


def test_a_word_that_may_not_come_leads_nowhere() -> None:
    automaton = Continuations(Grammar.from_phrases("two", ["left haunch", "right haunch"]))
    assert automaton.words(automaton.start) == ["left", "right"]
    nowhere = automaton.after(automaton.start, "haunch")
    assert not nowhere
    assert automaton.words(nowhere) == []
    assert not automaton.may_end(nowhere)


def test_options_and_repeats_keep_to_themselves() -> None:
    # a (b)+ (c)? d: the repeat must not let "a" come again, nor the option swallow "d".
    grammar = Grammar("made", Sequence((words("a"), Repeated(words("b")), Optional(words("c")), words("d"))))
    automaton = Continuations(grammar)
    for text, right in (
        ("a b d", 1),
        ("a b b b c d", 1),
        ("a d", 0),
        ("a b c c d", 0),
        ("a b", 0),
        ("a a b d", 0),
    ):
        assert accepts(automaton, text) == bool(right), text
    either = Grammar("either", Alternatives((Repeated(words("x")), words("y"))))
    walked = Continuations(either)
    assert accepts(walked, "x x")
    assert not accepts(walked, "x y")
    assert not accepts(walked, "")
