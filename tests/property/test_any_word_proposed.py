"""Any text in: a proposal, an honest refusal, or phones that exist; never another exception."""

import shutil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.speech.espeak_phonemes import EspeakPhonemes, is_plain
from handsfree.speech.expressions import normalise
from handsfree.speech.ipa import read_ipa
from handsfree.speech.phones import PHONES
from handsfree.speech.proposing import propose

IPA_LIKE = st.text(alphabet="ptkbdgɡfvszʃʒθðhxmnŋlɹrjwiɪeɛaæɑɒɔoʊuʌəɜɚʉɐːˈˌ_ ɬǃ̩:", max_size=30)


@given(st.one_of(st.text(max_size=40), IPA_LIKE))
def test_any_ipa_gives_known_phones_only(text: str) -> None:
    reading = read_ipa(text)
    assert set(reading.phones) <= PHONES
    assert set(reading.unknown) <= set(text)
    assert all(set(form.phones) <= PHONES for form in propose("word", {"one": text}).forms)


@given(st.lists(st.sampled_from(sorted(PHONES)), max_size=12))
def test_stress_and_spacing_change_nothing(phones: list[str]) -> None:
    plain = "_".join("b" if phone == "B" else "s" for phone in phones)
    assert read_ipa(plain).phones == read_ipa(plain.replace("_", "_ˈ").replace("_", " ")).phones


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.text(st.characters(categories=["L", "M", "P", "N"]), max_size=12), min_size=1, max_size=20)
)
def test_any_words_are_answered_line_by_line(texts: list[str]) -> None:
    words = [word for text in texts for word in normalise(text) if is_plain(word)]
    ipa = EspeakPhonemes().ipa(words, "en-gb")
    assert len(ipa) == len(words)
    assert all(set(read_ipa(one).phones) <= PHONES for one in ipa)
