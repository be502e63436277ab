"""The USB edge, on a scripted bus, with the weight reports of real scales where they are."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from handsfree.errors import ConfigError, ScaleError
from handsfree.testing.scripted_usb import ScriptedUsb, ScriptedUsbScale
from handsfree.weighing.hid import numbered
from handsfree.weighing.hid_port import HidPort, udev_rule, usb_scales
from handsfree.weighing.messages import Condition, Indication, ScaleEvent
from handsfree.weighing.ports import Chunk, Ended, Lost, Nothing
from handsfree.weighing.shapes import find_shapes
from handsfree.weighing.weigher import Weighed, Weigher

REAL = Path(os.environ.get("HANDSFREE_REAL_DATA", Path(__file__).parents[3] / "../shared/real")) / "scale"

# 1234 thousandths of a kilogram, stable; by the tables of usage page 0x8D.
REPORT = bytes.fromhex("030403fdd204")


class StepClock:
    def __init__(self) -> None:
        self.t_ns = 1

    def now_ns(self) -> int:
        self.t_ns += 100_000_000
        return self.t_ns

    def started_at(self):
        raise AssertionError("nobody asks")


def weigh(port: HidPort, calls: int = 30) -> list[Weighed]:
    weigher = Weigher("bench", find_shapes("auto"))
    return [each for _ in range(calls) for each in weigher.feed(port.receive(0.01))]


def test_a_report_becomes_a_line_and_a_line_a_weight():
    bus = ScriptedUsb(ScriptedUsbScale("/dev/hidraw0", reports=[REPORT] * 12))
    port = HidPort("bench", "hid:", StepClock(), bus)
    received = port.receive(0.01)
    assert isinstance(received, Chunk)
    assert received.data == b"HID 03 04 03 FD D2 04\r\n"
    found = [each for each in weigh(port, 12) if isinstance(each, Indication)]
    assert {(each.text, each.value_mg, each.stable) for each in found} == {("1.234 kg", 1_234_000, True)}
    port.close()
    assert bus.opened == 0


@pytest.mark.parametrize(
    ("name", "condition", "text"),
    [
        # The name is the report: status 4 stable, unit 0x0B ounce, power of ten 0xFF = -1, 0x4E = 78.
        ("hid_03040bff4e00.bin", Condition.NORMAL, "7.8 oz"),
        ("hid_03040bff1900.bin", Condition.NORMAL, "2.5 oz"),
        ("hid_03020bff0000.bin", Condition.NORMAL, "0.0 oz"),
        ("hid_03050bff0000.bin", Condition.UNDERLOAD, "0.0 oz"),
        ("hid_030400009000.bin", None, ""),  # unit 0: no weight to believe
    ],
)
def test_real_reports_through_the_whole_path(name: str, condition: Condition | None, text: str):
    if not (REAL / name).exists():
        pytest.skip(f"no real report {REAL / name}")
    reports = [REPORT] * 6 + [(REAL / name).read_bytes()]
    port = HidPort("bench", "hid:", StepClock(), ScriptedUsb(ScriptedUsbScale("a", reports=reports)))
    found = [each for each in weigh(port) if isinstance(each, Indication)][5:]
    assert [(each.condition, each.text) for each in found] == ([(condition, text)] if condition else [])


def test_unplugged_is_lost_and_the_same_scale_is_found_again_under_another_path():
    scale = ScriptedUsbScale("/dev/hidraw0", serial="7", reports=[REPORT] * 3)
    other = ScriptedUsbScale("/dev/hidraw1", serial="8", reports=[REPORT] * 3, plugged=False)
    bus, clock = ScriptedUsb(scale, other), StepClock()
    port = HidPort("bench", "hid:", clock, bus)
    assert isinstance(port.receive(0.01), Chunk)
    scale.plugged = False
    assert isinstance(port.receive(0.01), Lost)
    other.plugged = True  # another scale is not taken for the one that went
    clock.t_ns += 2_000_000_000
    assert isinstance(port.receive(0.01), Nothing)
    scale.path, scale.plugged = "/dev/hidraw5", True
    assert isinstance(port.receive(0.01), Nothing)  # tried again after a second only
    clock.t_ns += 2_000_000_000
    assert isinstance(port.receive(0.01), Chunk)
    port.close()
    assert isinstance(port.receive(0.01), Ended)
    assert bus.opened == 0


def test_a_scale_that_was_not_there_at_first_is_told_once_and_taken_when_it_comes():
    scale, clock = ScriptedUsbScale("a", reports=[REPORT], plugged=False), StepClock()
    port = HidPort("bench", "hid:", clock, ScriptedUsb(scale))
    with pytest.raises(ScaleError, match=r"bench scale is not found on USB.*USB scales here: none"):
        port.receive(0.0)
    assert isinstance(port.receive(0.0), Nothing)
    scale.plugged = True
    clock.t_ns += 2_000_000_000
    assert isinstance(port.receive(0.01), Chunk)


def test_reports_without_a_number_are_known_by_the_descriptor():
    # The same without Report ID: status, unit, power of ten, weight (20 g, stable).
    bare = bytes.fromhex("068d00 0920 a101 7508 9505 8102 c0")
    scale = ScriptedUsbScale("a", reports=[bytes.fromhex("0402001400")] * 9, descriptor=bare)
    port = HidPort("bench", "hid:", StepClock(), ScriptedUsb(scale))
    found = [each for each in weigh(port) if isinstance(each, Indication)]
    assert {each.text for each in found} == {"20 g"}


def test_a_descriptor_is_walked_item_by_item():
    # 0x85 as the data of another item (usage 0x85) is no Report ID; a long item is passed over.
    assert not numbered(bytes.fromhex("0985 068585 fe0285 8503"))
    assert numbered(bytes.fromhex("068d00 fe01ff 00 8503"))
    assert not numbered(b"")
    assert not numbered(b"\xfe")


def test_reports_without_a_weight_are_no_faults():
    reports = [REPORT, *[bytes([number, 0, 0]) for number in (1, 2, 4, 5, 6)] * 5] * 6
    port = HidPort("bench", "hid:", StepClock(), ScriptedUsb(ScriptedUsbScale("a", reports=reports)))
    found = weigh(port, 170)
    assert not any(isinstance(each, ScaleEvent) for each in found)
    assert len([each for each in found if isinstance(each, Indication)]) == 5


def test_other_devices_are_no_scales_and_two_scales_need_an_address():
    bus = ScriptedUsb(
        ScriptedUsbScale("a", usage_page=1),
        ScriptedUsbScale("b", vendor=0x0A1C, reports=[REPORT]),
        ScriptedUsbScale("c", serial="x:9", reports=[REPORT]),
    )
    assert [each.address for each in usb_scales(bus)] == ["hid:0a1c:0002", "hid:0a1b:0002:x:9"]
    with pytest.raises(ScaleError, match=r"2 USB scales could be.*hid:0a1c:0002, hid:0a1b:0002:x:9"):
        HidPort("bench", "hid:", StepClock(), bus).receive(0.0)
    for address in ("hid:A1C:2", "hid:0a1b:0002:x:9"):
        assert isinstance(HidPort("bench", address, StepClock(), bus).receive(0.01), Chunk)
    with pytest.raises(ScaleError, match="not found"):
        HidPort("bench", "hid:0a1b:0002:y", StepClock(), bus).receive(0.0)


def test_a_scale_without_rights_names_the_udev_rule(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = tmp_path / "hidraw0"
    path.write_bytes(b"")
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may read everything
    bus = ScriptedUsb(ScriptedUsbScale(str(path), refuses=True))
    with pytest.raises(ScaleError, match="may not be used by this user") as caught:
        HidPort("bench", "hid:", StepClock(), bus).receive(0.0)
    (scale,) = usb_scales(bus)
    assert udev_rule(scale) in str(caught.value)
    assert 'ATTRS{idVendor}=="0a1b", ATTRS{idProduct}=="0002"' in str(caught.value)


def test_a_scale_that_is_busy_says_so():
    bus = ScriptedUsb(ScriptedUsbScale("nonesuch", refuses=True))
    with pytest.raises(ScaleError, match=r"cannot be opened \(open failed\).*close programs"):
        HidPort("bench", "hid:", StepClock(), bus).receive(0.0)


@pytest.mark.parametrize("address", ["hid:zz:1", "hid", "hid:1", "hid:12345:1", "hid::"])
def test_a_bad_address_is_a_settings_error(address: str):
    with pytest.raises(ConfigError, match="no address of a USB scale"):
        HidPort("bench", address, StepClock(), ScriptedUsb())


def test_the_library_itself_finds_no_scale_here_and_says_so():
    pytest.importorskip("hid", reason="hidapi is not installed")
    if usb_scales():
        pytest.skip("a real USB scale is plugged in")
    with pytest.raises(ScaleError, match="not found on USB"):
        HidPort("bench", "hid:", StepClock()).receive(0.0)
