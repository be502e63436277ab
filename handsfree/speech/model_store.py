"""Speech models on this machine: lists, selects, and fetches when asked by name. An edge module."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import platformdirs

from handsfree.errors import ConfigError, EngineUnavailableError, ModelError
from handsfree.speech.model_fetching import Progress, digest_of, download, unpack
from handsfree.speech.models import InstalledModel, KnownModel, known_model, language_of, read_catalogue
from handsfree.speech.pocketsphinx_decoders import model_folder

CATALOGUE_FILE = "models.toml"
EMBEDDED = "embedded"
"""The name under which the embedded engine's own model is listed and selected."""

_SELECTED_FILE = "selected"
_DIGEST_SUFFIX = ".sha256"


def default_folder() -> Path:
    """Where fetched models are kept: the user's data folder."""
    return platformdirs.user_data_path("handsfree") / "models"


def load_catalogue(file: Path | None = None) -> dict[str, KnownModel]:
    """The packaged catalogue, or another file in its form.

    Raises:
        ConfigError: The file cannot be read or has faults.
    """
    source = file or files("handsfree.speech") / CATALOGUE_FILE
    try:
        data = tomllib.loads(source.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ConfigError(
            f"the model catalogue {source} cannot be read: {error}", next_step="correct the file"
        ) from error
    return read_catalogue(data, str(source))


class ModelStore:
    """The models of one folder, with the embedded one.

    Args:
        folder: Where models are unpacked; made when the first is fetched.
        catalogue: Models that can be fetched by name; the packaged ones when not given.
    """

    def __init__(self, folder: Path | None = None, catalogue: dict[str, KnownModel] | None = None) -> None:
        self.folder = folder or default_folder()
        self.catalogue = load_catalogue() if catalogue is None else catalogue

    def installed(self) -> list[InstalledModel]:
        """The embedded model, then the unpacked ones by name."""
        selected = self._selected()
        found: list[InstalledModel] = []
        try:
            embedded = model_folder()
        except EngineUnavailableError:
            pass
        else:
            found.append(
                InstalledModel(
                    EMBEDDED, "en-us", _size_mb(embedded / "en-us"), None, selected=selected == EMBEDDED
                )
            )
        folders = sorted(self.folder.iterdir()) if self.folder.is_dir() else []
        found += [self._unpacked(folder, selected) for folder in folders if _is_model(folder)]
        return found

    def select(self, name: str) -> None:
        """Use this model from now on: an installed one, or "embedded".

        Raises:
            ModelError: It is not installed, or the choice cannot be written.
        """
        if name != EMBEDDED and name not in {model.name for model in self.installed()}:
            raise ModelError(
                f"the model {name!r} is not installed", next_step=f"fetch it: handsfree models fetch {name}"
            )
        self._write(self.folder / _SELECTED_FILE, name + "\n")

    def fetch(
        self, name: str, progress: Progress | None = None, tell: Callable[[str], None] | None = None
    ) -> Path:
        """Download, check and unpack a model of the catalogue; go on where an earlier try stopped.

        Args:
            name: A name of the catalogue.
            progress: Called with bytes had and bytes in all (0 when not known).
            tell: Called with sentences for the user.

        Returns:
            The model's folder.

        Raises:
            ModelError: Not in the catalogue, no connection, wrong digest, damaged zip, disk trouble;
                says what was kept.
        """
        known = known_model(self.catalogue, name)
        say = tell or (lambda _sentence: None)
        target = self.folder / name
        if _is_model(target):
            say(f"{name} is already installed in {target}.")
            return target
        self._make_folder()
        archive = self.folder / f"{name}.zip.part"
        download(known.url, archive, progress)
        seen = self._checked(known, archive)
        unpack(archive, target, name)
        archive.unlink()
        # Kept only now: the digest of a log-in page or a damaged file must not bar the real one.
        if not known.sha256 and not self._pinned(name):
            say(
                f"The publisher gives no digest for {name}. This download's is {seen}; it is kept, "
                "and a later download has to have the same."
            )
        self._write(self._pin_file(name), seen + "\n")
        return target

    def _checked(self, known: KnownModel, archive: Path) -> str:
        """The digest of the download, when nothing speaks against it."""
        seen = digest_of(archive)
        expected = known.sha256 or self._pinned(known.name)
        if expected and seen != expected:
            archive.unlink()
            whose = "the catalogue" if known.sha256 else "an earlier download"
            raise ModelError(
                f"the download of {known.name} has the digest {seen}, but {whose} says {expected}",
                kept="The download was thrown away; installed models are untouched",
                next_step=f"try again; if it stays so, do not use it (the kept digest is in "
                f"{self._pin_file(known.name)})",
            )
        return seen

    def _make_folder(self) -> None:
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise ModelError(
                f"the folder {self.folder} cannot be made: {error.strerror}", next_step="check its rights"
            ) from error

    def _write(self, file: Path, text: str) -> None:
        self._make_folder()
        try:
            file.write_text(text, encoding="utf-8")
        except OSError as error:
            raise ModelError(
                f"{file} cannot be written: {error.strerror}", next_step="check its rights"
            ) from error

    def _unpacked(self, folder: Path, selected: str) -> InstalledModel:
        name = folder.name
        known = self.catalogue.get(name)
        language = known.language if known else language_of(name)
        return InstalledModel(
            name, language, _size_mb(folder), folder, self._pinned(name), selected=selected == name
        )

    def _selected(self) -> str:
        return _read(self.folder / _SELECTED_FILE)

    def _pinned(self, name: str) -> str:
        return _read(self._pin_file(name))

    def _pin_file(self, name: str) -> Path:
        return self.folder / f"{name}{_DIGEST_SUFFIX}"


def _read(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def _is_model(folder: Path) -> bool:
    return (folder / "am").is_dir() or (folder / "final.mdl").is_file()


def _size_mb(folder: Path) -> int:
    return round(sum(file.stat().st_size for file in folder.rglob("*") if file.is_file()) / 1e6)
