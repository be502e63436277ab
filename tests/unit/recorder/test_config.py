"""The settings file: defaults, and every fault with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.config import Config, load_config
from handsfree.errors import ConfigError
from handsfree.wiring.scales import scale_data


def written(folder: Path, text: str) -> Path:
    file = folder / "handsfree.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_an_empty_file_gives_the_defaults(tmp_path: Path) -> None:
    assert load_config(written(tmp_path, "")) == Config()


def test_a_scale_is_read_with_its_port_and_interval(tmp_path: Path) -> None:
    config = load_config(written(tmp_path, '[scale.bench]\nport = "/dev/ttyUSB0"\nbaud = 4800\nd_g = 5\n'))
    bench = config.scales["bench"]
    assert (bench.name, bench.port, bench.baud, bench.d_g, bench.shape) == (
        "bench",
        "/dev/ttyUSB0",
        4800,
        5,
        "auto",
    )
    assert not bench.weighs_carcasses


def test_a_scale_named_rail_weighs_carcasses_unless_it_is_told_otherwise(tmp_path: Path) -> None:
    config = load_config(written(tmp_path, "[scale.rail]\n[scale.hook]\ncarcass = true\n"))
    assert config.scales["rail"].weighs_carcasses
    assert config.scales["hook"].weighs_carcasses


def test_all_faults_are_told_together_each_with_its_line(tmp_path: Path) -> None:
    file = written(
        tmp_path,
        '[speech]\nengine = "ears"\n\n[scale.bench]\nd_g = "five"\nbawd = 9600\n\n[kitchen]\nsink = 1\n',
    )
    with pytest.raises(ConfigError) as caught:
        load_config(file)
    message = str(caught.value)
    assert f"{file}:2: speech.engine must be one of auto, pocketsphinx, vosk, not 'ears'" in message
    assert f"{file}:5: scale.bench.d_g must be a number above 0, not 'five'" in message
    assert f"{file}:6: scale.bench.bawd is not a setting known here" in message
    assert f"{file}:8: [kitchen] is not a section known here" in message


@pytest.mark.parametrize("value", ["0", "-5", "true", "nan"])
def test_an_interval_must_be_a_number_above_nothing(tmp_path: Path, value: str) -> None:
    with pytest.raises(ConfigError, match="must be a number above 0"):
        load_config(written(tmp_path, f"[scale.bench]\nd_g = {value}\n"))


def test_malformed_toml_names_the_line(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="line 2"):
        load_config(written(tmp_path, "[larder]\nname = oak\n"))


def test_a_file_that_was_named_and_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="no settings file"):
        load_config(tmp_path / "none.toml")


def test_scales_must_be_sections(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"\[scale.NAME\]"):
        load_config(written(tmp_path, "scale = 3\n"))


def test_what_a_check_found_of_a_scale_reaches_the_balance(tmp_path: Path) -> None:
    file = tmp_path / "config.toml"
    file.write_text(
        "[scale.bench]\nd_g = 5\nrepeatability_g = 2\nrepeatability_readings = 10\nspan = 0.0002\n"
        "eccentricity = 0.0001\n",
        encoding="utf-8",
    )
    data = scale_data(load_config(file).scales)["bench"]
    assert (data.repeatability_mg, data.repeatability_dof) == (2000, 9)
    assert (data.span, data.eccentricity) == (0.0002, 0.0001)
    file.write_text("[scale.bench]\nd_g = 5\nrepeatability_readings = 1\n", encoding="utf-8")
    with pytest.raises(ConfigError, match="repeatability_readings must be a whole number above 1, not 1"):
        load_config(file)


@pytest.mark.parametrize(
    ("line", "complaint"),
    [
        ('numbers = "stones"', "answers.numbers must be one of kilograms, grams"),
        ('read_back = "never"', "answers.read_back must be one of always, unusual"),
        ("questions = 1", "answers.questions must be true or false"),
        ("rate = 20", "answers.rate must be from 80 to 400"),
        ("loudness = 0", "answers.loudness must be from 0.01 to 1"),
        ("loudness = nan", "answers.loudness must be from 0.01 to 1"),
    ],
)
def test_a_manner_of_speaking_that_is_none_is_refused(tmp_path: Path, line: str, complaint: str) -> None:
    with pytest.raises(ConfigError, match=complaint):
        load_config(written(tmp_path, f"[answers]\n{line}\n"))


def test_the_manner_of_speaking_is_read(tmp_path: Path) -> None:
    text = (
        '[answers]\nnumbers = "grams"\nread_back = "unusual"\nquestions = false\nrate = 200\nloudness = 0.5\n'
    )
    answers = load_config(written(tmp_path, text)).answers
    assert (answers.numbers, answers.read_back, answers.questions) == ("grams", "unusual", False)
    assert (answers.rate, answers.loudness) == (200, 0.5)
