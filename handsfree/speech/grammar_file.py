"""The grammar files: reads the cut list, the commands and the user's own file. An edge module."""

from __future__ import annotations

from pathlib import Path

from handsfree.errors import ConfigError, GrammarError
from handsfree.speech.commands_reader import read_commands
from handsfree.speech.cutlist_reader import read_cutlist
from handsfree.speech.meaning import Call
from handsfree.speech.sheets import Faults, Sheets
from handsfree.speech.toml_document import Document, read_document
from handsfree.speech.vocabulary import Vocabulary

COMMANDS_FILE = "commands.toml"

_COMMAND_TABLES = {"attention", "words", "answer", "command", "note"}
_LIST_TABLES = {"cut", "destination", "species", "plan"}
_OWN_TABLES = _COMMAND_TABLES | _LIST_TABLES | {"sounds_like", "pronunciation"}


def load_vocabulary(folder: Path, species_list: str = "venison", own_file: Path | None = None) -> Vocabulary:
    """The vocabulary of a cut list with the commands, and the user's own words laid over both.

    Args:
        folder: Where the grammar files are (`resources.grammar_folder()`).
        species_list: Which cut list: a file `<species_list>.toml` in the folder.
        own_file: The user's own names, phrasings and attention word; must exist when given.

    Raises:
        ConfigError: There is no such cut list.
        GrammarError: A file cannot be read or has faults; all faults are named with file and line.
    """
    path = folder / f"{species_list}.toml"
    if not path.is_file():
        lists = ", ".join(cut_lists(folder))
        raise ConfigError(
            f"there is no cut list {species_list!r} in {folder}", next_step=f"the lists there are: {lists}"
        )
    return vocabulary_of(
        read_file(path), read_file(folder / COMMANDS_FILE), None if own_file is None else read_file(own_file)
    )


def cut_lists(folder: Path) -> list[str]:
    """The names of the cut lists in a grammar folder."""
    return sorted(path.stem for path in folder.glob("*.toml") if path.name != COMMANDS_FILE)


def read_file(path: Path) -> Document:
    """One grammar file as a document.

    Raises:
        GrammarError: The file is missing, unreadable, or no TOML; names file and line.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise GrammarError(
            f"the file {path} is not text in UTF-8", next_step="save the file as UTF-8"
        ) from error
    except OSError as error:
        raise GrammarError(
            f"the file {path} cannot be read: {error.strerror}",
            next_step="check the name and the rights of the file",
        ) from error
    return read_document(text, str(path))


def vocabulary_of(cutlist: Document, commands: Document, own: Document | None = None) -> Vocabulary:
    """The vocabulary of documents already read; needs no file.

    Raises:
        GrammarError: There are faults; all are named with file and line.
    """
    faults = Faults()
    for document, known in (
        (cutlist, _LIST_TABLES | {"name"}),
        (commands, _COMMAND_TABLES),
        (own, _OWN_TABLES),
    ):
        if document is not None:
            for key in sorted(document.data.keys() - known):
                faults.add(
                    document.where(key), f"{key!r} is not known here; known: {', '.join(sorted(known))}"
                )
    list_sheets, command_sheets = Sheets(cutlist, own, faults), Sheets(commands, own, faults)
    vocabulary = Vocabulary(read_cutlist(list_sheets), read_commands(command_sheets))
    faults.raise_if_any()
    _each_name_means_one_thing(vocabulary, list_sheets)
    faults.raise_if_any()
    return vocabulary


def _each_name_means_one_thing(vocabulary: Vocabulary, sheets: Sheets) -> None:
    """A cut that sounds like an answer, a side, a count with a cut, or a command would be both."""
    grammar = vocabulary.everything()
    attention = vocabulary.commands.attention
    for cut in vocabulary.cutlist.cuts:
        for name in cut.spoken_names():
            others = [m for m in grammar.parse(name) if m != Call(cut.name)]
            if others:
                also = ", ".join(m.words() if isinstance(m, Call) else str(m) for m in others)
                sheets.fault(f"{name!r} names the cut {cut.name!r} but also means {also}", "cut", cut.name)
            if f"{name} ".startswith(f"{attention} "):
                sheets.fault(
                    f"{name!r} names the cut {cut.name!r} but begins with the attention word {attention!r}",
                    "cut",
                    cut.name,
                )
