"""Every `Phones`: the same sound gives the same phones, in this process and in one of its own."""

from __future__ import annotations

import os
import resource
import shutil
import signal
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import ModelError
from handsfree.speech.messages import Samples
from handsfree.speech.phones_apart import PhoneProcess, beside
from handsfree.speech.pocketsphinx_decoders import INITIAL_CMN, PhoneDecoder, base_dictionary
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.ports import Phones, Recognition
from handsfree.testing.making_sound import silence
from handsfree.testing.rehearsal.voices import Voice, speak
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

pytestmark = pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")


@cache
def said(text: str) -> Samples:
    return np.concatenate([silence(0.25), speak(text, Voice("flite", "slt")), silence(0.3)])


@pytest.fixture
def process() -> Iterator[PhoneProcess]:
    made = PhoneProcess()
    yield made
    made.close()


@pytest.fixture(params=["here", "apart"])
def phones(request: pytest.FixtureRequest, process: PhoneProcess) -> Phones:
    makers: dict[str, Callable[[], Phones]] = {"here": PhoneDecoder, "apart": process.phones}
    return makers[str(request.param)]()


def labels(phones: Phones, text: str) -> list[str]:
    phones.listen(said(text), INITIAL_CMN)
    return [piece.label for piece in phones.segments()]


def test_phones_are_what_was_said_and_cover_the_sound_in_order(phones: Phones) -> None:
    phones.listen(said("left haunch"), INITIAL_CMN)
    found = phones.segments()
    # CMUdict 0.7b: LEFT  L EH1 F T; HAUNCH  HH AO1 N CH. Most of them come out of free phones too.
    heard = {piece.label for piece in found}
    assert len(heard & {"L", "EH", "F", "T", "HH", "AO", "N", "CH"}) >= 5
    assert [piece.first_frame for piece in found] == sorted(piece.first_frame for piece in found)


def test_the_same_sound_gives_the_same_phones_whatever_came_before(phones: Phones) -> None:
    first = labels(phones, "left haunch")
    assert labels(phones, "neck fillet") != first
    assert labels(phones, "left haunch") == first


def test_what_was_asked_and_not_fetched_is_not_handed_out_for_the_next(phones: Phones) -> None:
    alone = labels(phones, "neck fillet")
    phones.listen(said("left haunch"), INITIAL_CMN)
    assert labels(phones, "neck fillet") == alone


def heard(engine: PocketSphinxRecogniser, text: str) -> Recognition:
    engine.use(shipped_vocabulary().listening())
    engine.begin()
    engine.feed(said(text))
    return engine.finish()


def test_an_engine_hears_the_very_same_with_its_phones_apart(process: PhoneProcess) -> None:
    lexicon = shipped_lexicon(base_dictionary())
    here, apart = PocketSphinxRecogniser(lexicon), PocketSphinxRecogniser(lexicon, phones=process.phones)
    for text in ("left haunch", "ledger strike that"):
        assert heard(here, text) == heard(apart, text)


@pytest.mark.parametrize("when", ["before it is asked", "before it has answered"])
def test_a_process_that_is_killed_loses_nothing(process: PhoneProcess, when: str) -> None:
    expected = labels(PhoneDecoder(), "left haunch")
    phones = process.phones()
    assert labels(phones, "left haunch") == expected
    assert process.pid is not None
    if when == "before it has answered":
        os.kill(process.pid, signal.SIGSTOP)
        phones.listen(said("left haunch"), INITIAL_CMN)
    os.kill(process.pid, signal.SIGKILL)
    if when == "before it is asked":
        phones.listen(said("left haunch"), INITIAL_CMN)
    assert [piece.label for piece in phones.segments()] == expected
    assert labels(phones, "neck fillet") == labels(PhoneDecoder(), "neck fillet")


def test_ctrl_c_does_not_end_it(process: PhoneProcess) -> None:
    phones = process.phones()
    first = labels(phones, "left haunch")
    assert process.pid is not None
    os.kill(process.pid, signal.SIGINT)
    assert labels(phones, "left haunch") == first
    os.kill(process.pid, 0)  # it is there still


def test_a_voice_that_cannot_be_loaded_is_told_as_without_the_process(
    process: PhoneProcess, tmp_path: Path
) -> None:
    (tmp_path / "means").write_bytes(b"no means at all")
    phones = process.phones(tmp_path)
    phones.listen(said("left haunch"), INITIAL_CMN)
    with pytest.raises(ModelError):
        phones.segments()
    assert labels(process.phones(), "left haunch"), "and the process goes on"


def test_where_no_process_can_be_started_there_is_none() -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (3, hard))
    try:
        assert beside() is None
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@pytest.mark.skipif(len(os.sched_getaffinity(0)) < 2, reason="a second core is needed")
def test_on_one_core_there_is_none_and_on_two_there_is() -> None:
    allowed = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(allowed)})
    try:
        assert beside() is None
    finally:
        os.sched_setaffinity(0, allowed)
    process = beside()
    assert process is not None
    process.close()
