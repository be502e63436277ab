"""Each grammar file has a twin of phrases with the meaning a butcher would give them."""

import shlex
import tomllib
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from handsfree.resources import grammar_folder
from handsfree.speech.meaning import Answer, Call, Command, Meaning, Side, Verb
from handsfree.speech.vocabulary import Vocabulary
from handsfree.testing.shipped_words import shipped_vocabulary

TWINS = Path(__file__).parents[3] / "fixtures" / "utterances"
LISTS = {"venison": "venison", "lamb": "lamb", "commands": "venison"}


#: The twin of the commands is one of a larder with these.
BUTCHERS = (1, 2, 12)


def with_butchers(cutlist: str) -> Vocabulary:
    shipped = shipped_vocabulary(cutlist)
    return replace(shipped, commands=replace(shipped.commands, butchers=BUTCHERS))


def rows(twin: str) -> list[tuple[str, str]]:
    lines = (TWINS / f"{twin}.txt").read_text(encoding="utf-8").splitlines()
    split = [line.split(" -> ") for line in lines if line and not line.startswith("#")]
    return [(phrase, expected) for phrase, expected in split]


def meaning(expected: str) -> Meaning | None:
    kind, *parts = shlex.split(expected)
    if kind == "refused":
        return None
    if kind == "answer":
        return Answer(parts[0])
    said: dict[str, Any] = dict(part.split("=", 1) for part in parts)
    call = None
    if "cut" in said:
        side = Side(said["side"]) if "side" in said else None
        call = Call(said["cut"], side, int(said.get("count", 1)), said.get("destination"))
    if kind == "call":
        return call or Call("", same_again=said["same_again"] == "true")
    return Command(
        Verb(said["verb"]),
        number=Decimal(said["number"]) if "number" in said else None,
        digits=said.get("digits", ""),
        call=call,
        species=said.get("species"),
        sex=said.get("sex"),
        note=said.get("note"),
        plan=said.get("plan"),
        butcher=int(said.get("butcher", 0)),
    )


@pytest.mark.parametrize("twin", LISTS)
def test_every_phrase_of_the_twin_means_what_stands_beside_it_and_nothing_else(twin: str) -> None:
    grammar = with_butchers(LISTS[twin]).everything()
    wrong = [
        (phrase, grammar.parse(phrase), expected)
        for phrase, expected in rows(twin)
        if grammar.parse(phrase) != (() if (meant := meaning(expected)) is None else (meant,))
    ]
    assert not wrong


@pytest.mark.parametrize("cutlist", ["venison", "lamb"])
def test_no_name_of_the_cut_list_is_without_a_twin(cutlist: str) -> None:
    data = tomllib.loads((grammar_folder() / f"{cutlist}.toml").read_text(encoding="utf-8"))
    said = {phrase for phrase, expected in rows(cutlist) if expected != "refused"}
    for cut, table in data["cut"].items():
        for name in (cut, *table.get("aliases", [])):
            assert name in said
        for name in table.get("plurals", []):
            assert any(phrase.partition(" ")[2] == name for phrase in said), name
    for place, aliases in data["destination"].items():
        for name in (place, *aliases):
            assert any(phrase.endswith(f" for {name}") for phrase in said), name
    for kind, table in data["species"].items():
        for name in (kind, *table.get("aliases", [])):
            for sex in ("", *table["sexes"]):
                assert f"ledger {name} {sex}".strip() in said


@pytest.mark.parametrize("cutlist", ["venison", "lamb"])
def test_no_plan_of_the_cut_list_is_without_a_twin(cutlist: str) -> None:
    said = {phrase for phrase, expected in rows(cutlist) if expected != "refused"}
    for plan in shipped_vocabulary(cutlist).cutlist.plans:
        assert {f"ledger plan {name}" for name in plan.spoken_names()} <= said


def test_a_larder_without_butchers_does_not_listen_for_them() -> None:
    grammar = shipped_vocabulary().everything()
    about = [phrase for phrase, _ in rows("commands") if "butcher" in phrase]
    assert len(about) >= 5
    assert not [phrase for phrase in about if grammar.parse(phrase)]
    assert "butcher" not in grammar.words()


def test_no_phrasing_of_the_commands_is_without_a_twin() -> None:
    data = tomllib.loads((grammar_folder() / "commands.toml").read_text(encoding="utf-8"))
    said = [phrase for twin in LISTS for phrase, expected in rows(twin) if expected != "refused"]
    for phrasings in data["command"].values():
        for phrasing in phrasings:
            head, slot, _ = phrasing.partition("<")
            whole = f"ledger {head}".strip()
            assert any(phrase.startswith(f"{whole} ") if slot else phrase == whole for phrase in said), (
                phrasing
            )
    for texts in (*data["answer"].values(), data["words"]["same_again"]):
        assert set(texts) <= set(said)
    for note, aliases in data["note"].items():
        for text in (note, *aliases):
            assert f"ledger note {text}" in said


def test_every_cut_and_destination_of_the_agreed_list_is_there() -> None:
    # The list agreed with the trade for venison; destinations likewise.
    agreed = (
        "haunch, rump, topside, silverside, thick flank, shank, fore shank, saddle, loin, fillet, rack, "
        "double chops, cutlets, haunch steaks, loin steaks, shoulder, neck, neck fillet, breast, flank, "
        "dice, mince, burger trim, fat, pet trim, bone, skin, bloodshot, waste, liver, heart, kidneys"
    )
    vocabulary = shipped_vocabulary()
    assert vocabulary.cut_names() == agreed.split(", ")
    assert vocabulary.destination_names() == ["prime", "dice", "mince", "pet", "stock", "waste", "condemned"]
