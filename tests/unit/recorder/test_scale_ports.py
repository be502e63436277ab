"""What the settings make of a scale's port."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.clock import SystemClock
from handsfree.config import ScaleSettings, load_config
from handsfree.errors import ConfigError, SessionError
from handsfree.weighing.asking import Asking
from handsfree.weighing.hid_port import HidPort
from handsfree.weighing.recording import Spied
from handsfree.weighing.serial_port import SerialPort
from handsfree.wiring import scale_ports
from handsfree.wiring.scale_ports import transports


def kinds(tmp_path: Path, text: str) -> list[type]:
    file = tmp_path / "handsfree.toml"
    file.write_text(text)
    made = transports(load_config(file).scales, SystemClock())
    for each in made:
        each.close()
    return [type(each) for each in made]


def test_a_device_a_url_and_a_usb_scale_each_have_their_transport(tmp_path: Path):
    text = '[scale.a]\nport = "/dev/ttyUSB0"\n[scale.b]\nport = "socket://h:1"\n[scale.c]\nport = "hid:"\n'
    assert kinds(tmp_path, text) == [SerialPort, SerialPort, HidPort]


def test_a_scale_that_is_asked_takes_its_request_from_the_settings_or_its_shape(tmp_path: Path):
    own = '[scale.a]\nport = "loop://"\npoll_s = 0.2\nrequest = "Q\\r\\n"\n'
    shape = '[scale.b]\nport = "loop://b"\npoll_s = 0.2\nshape = "status_space"\n'
    assert kinds(tmp_path, own + shape) == [Asking, Asking]


def test_a_scale_that_is_asked_with_nothing_is_a_settings_error(tmp_path: Path):
    with pytest.raises(ConfigError, match=r'asked every 0\.2 s, and nothing says with what.*request = "W'):
        kinds(tmp_path, '[scale.a]\nport = "loop://"\npoll_s = 0.2\n')


def test_scales_that_share_a_port_need_an_address_each(tmp_path: Path):
    one = '[scale.a]\nport = "loop://"\naddress = "01"\n[scale.b]\nport = "loop://"\n'
    with pytest.raises(ConfigError, match=r"The scales a and b share the port loop://.*address"):
        kinds(tmp_path, one)
    with pytest.raises(ConfigError, match="share the port"):
        kinds(tmp_path, one + 'address = "01"\n')
    assert len(kinds(tmp_path, one + 'address = "02"\n')) == 2


def test_a_scale_without_a_port_is_a_settings_error():
    with pytest.raises(ConfigError, match="The scale bench has no port"):
        transports({"bench": ScaleSettings("bench")}, SystemClock())


def test_spy_keeps_a_capture_and_says_where(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(scale_ports, "captures_folder", lambda: tmp_path / "captures")
    told: list[str] = []
    (made,) = transports(
        {"bench": ScaleSettings("bench", port="spy+loop://")}, SystemClock(), tell=told.append
    )
    made.close()
    assert isinstance(made, Spied)
    (file,) = (tmp_path / "captures").iterdir()
    assert file.name in told[0]
    assert file.read_text() == "seconds,scale,line\n"


def test_a_capture_that_cannot_be_made_is_an_error_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(scale_ports, "captures_folder", lambda: tmp_path / "file" / "captures")
    with pytest.raises(SessionError, match=r"cannot be made.*Take spy\+ off"):
        transports({"bench": ScaleSettings("bench", port="spy+loop://")}, SystemClock())
