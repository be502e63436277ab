"""Faulty grammar files: every fault is told, with file and line, and nothing else is raised."""

from pathlib import Path

import pytest

from handsfree.errors import ConfigError, GrammarError
from handsfree.resources import grammar_folder
from handsfree.speech.grammar_file import cut_lists, load_vocabulary
from handsfree.speech.meaning import Call, Command, Side, Verb
from handsfree.speech.vocabulary import Vocabulary

OWN = Path(__file__).parents[3] / "fixtures" / "own_words.toml"

GOOD = """name = "venison"
[destination]
"prime" = []
[cut.haunch]
sided = true
plurals = ["haunches"]
destination = "prime"
[cut.shank]
destination = "prime"
[plan.small]
pieces = [
  { cut = "haunch", sides = ["left", "right"] },
  { cut = "shank" },
]
"""


def load(folder: Path, text: str, own: str | None = None) -> Vocabulary:
    commands = (grammar_folder() / "commands.toml").read_text(encoding="utf-8")
    (folder / "commands.toml").write_text(commands, encoding="utf-8")
    (folder / "venison.toml").write_text(text, encoding="utf-8")
    if own is None:
        return load_vocabulary(folder)
    (folder / "own.toml").write_text(own, encoding="utf-8")
    return load_vocabulary(folder, own_file=folder / "own.toml")


def test_a_good_file_loads(tmp_path: Path) -> None:
    vocabulary = load(tmp_path, GOOD)
    assert vocabulary.cut_names() == ["haunch", "shank"]
    assert [piece.side for piece in vocabulary.plan("small").pieces] == [Side.LEFT, Side.RIGHT, None]


@pytest.mark.parametrize(
    ("old", "new", "line", "said"),
    [
        ('"prime" = []', '"prime" = [', 4, "no grammar file that can be read"),
        ("sided = true", "sided = maybe", 5, "no grammar file that can be read"),
        ("[cut.shank]", "[cut.haunch]", 8, "Cannot declare"),
        ("sided = true", 'sided = "yes"', 5, "'sided' should be true or false"),
        ("sided = true", "sidde = true", 5, "'sidde' is not known here"),
        ("sided = true", "share = 1.5", 5, "'share' should be a number above 0 and up to 1"),
        ("sided = true", 'class = "lump"', 5, "unknown class 'lump'"),
        ("sided = true", 'aliases = "leg"', 5, "'aliases' should be a list of texts"),
        ("sided = true", 'aliases = ["cut 2"]', 5, "'2' in 'cut 2' is not a word"),
        ("sided = true", 'aliases = [""]', 5, "holds no words"),
        ('["haunches"]', '["shank"]', 8, "'shank' names the cut 'shank' and also 'haunch'"),
        ('["haunches"]\ndestination = "prime"', '["haunches"]\ndestination = "bin"', 7, "'bin'; known"),
        ('["haunches"]\ndestination = "prime"', '["haunches"]', 4, "no destination"),
        ("sided = true", 'sided = true\naliases = ["yes"]', 4, "'haunch' but also means yes"),
        ("sided = true", 'sided = true\naliases = ["same again"]', 4, "also means same again"),
        ("sided = true", 'sided = true\naliases = ["left haunch"]', 4, "also means left haunch"),
        ("sided = true", 'sided = true\naliases = ["ledger tray"]', 4, "tray"),
        ('{ cut = "shank" }', '{ cut = "shin" }', 13, "no cut of this list: 'shin'"),
        ('{ cut = "shank" }', '{ cut = "shank", sides = ["left"] }', 13, "'shank' has no sides"),
        ('{ cut = "shank" }', '{ cut = "shank", count = 0 }', 13, "'count' should be a whole number"),
        ('{ cut = "shank" }', '{ cut = "shank", share = "big" }', 13, "'share' should be a number"),
        ('name = "venison"', 'nam = "venison"', 1, "'nam' is not known here"),
        ('[destination]\n"prime" = []\n', "", 5, "unknown destination 'prime'"),
    ],
)  # fmt: skip
def test_a_fault_is_told_with_its_line(tmp_path: Path, old: str, new: str, line: int, said: str) -> None:
    assert old in GOOD
    text = GOOD.replace(old, new)
    with pytest.raises(GrammarError) as error:
        load(tmp_path, text)
    assert f"venison.toml:{line}: " in str(error.value)
    assert said in str(error.value)


def test_all_faults_are_told_together(tmp_path: Path) -> None:
    text = GOOD.replace("sided = true", "sided = true\nspread = 9").replace('"shank" }', '"shin" }')
    with pytest.raises(GrammarError) as error:
        load(tmp_path, text)
    assert "2 faults in the grammar files" in str(error.value)
    assert "venison.toml:6: " in str(error.value)
    assert "venison.toml:14: " in str(error.value)


@pytest.mark.parametrize(
    ("own", "line", "said"),
    [
        ('[command]\n"strik" = ["belay"]', 2, "'strik' is not known here"),
        ('[command]\n"strike" = ["belay <digits>"]', 2, "should end in no slot"),
        ('[command]\n"strike" = ["tray"]', None, "'tray' is said for 'tray' and also for 'strike'"),
        ('[command]\n"tag" = ["tag <digits> now"]', 2, "words may not follow a slot"),
        ("[cuts.haunch]\nsided = true", 1, "'cuts' is not known here"),
        ('attention = ""', 1, "holds no words"),
        ('[cut.shank]\ndestination = "bin"', 2, "'bin'"),
        ('attention = "haunch"', None, "begins with the attention word"),
    ],
)
def test_a_fault_in_the_own_file_is_told_too(tmp_path: Path, own: str, line: int | None, said: str) -> None:
    with pytest.raises(GrammarError) as error:
        load(tmp_path, GOOD, own)
    assert said in str(error.value)
    assert line is None or f"own.toml:{line}: " in str(error.value)


def test_own_words_are_laid_over_the_shipped_ones() -> None:
    vocabulary = load_vocabulary(grammar_folder(), own_file=OWN)
    grammar = vocabulary.listening()
    assert grammar.parse("left knuckle") == (Call("thick flank", Side.LEFT),)
    assert grammar.parse("left thick flank") == (Call("thick flank", Side.LEFT),)
    assert grammar.parse("three osso bucos") == (Call("osso buco", count=3),)
    assert grammar.parse("hey larder belay that") == (Command(Verb.STRIKE),)
    assert grammar.parse("hey larder strike that") == (Command(Verb.STRIKE),)
    assert not grammar.contains("ledger strike that")


def test_what_is_not_there_is_told_with_what_is(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="lamb, venison"):
        load_vocabulary(grammar_folder(), "goat")
    with pytest.raises(GrammarError, match=r"missing\.toml cannot be read"):
        load_vocabulary(grammar_folder(), own_file=tmp_path / "missing.toml")
    (tmp_path / "latin.toml").write_bytes(b'attention = "\xe9t\xe9"')
    with pytest.raises(GrammarError, match="not text in UTF-8"):
        load_vocabulary(grammar_folder(), own_file=tmp_path / "latin.toml")
    assert cut_lists(grammar_folder()) == ["lamb", "venison"]
    vocabulary = load_vocabulary(grammar_folder())
    with pytest.raises(ConfigError, match="primals, block"):
        vocabulary.plan("sausages")
    with pytest.raises(ConfigError, match="no cut 'carrot'"):
        vocabulary.cut("carrot")
