"""What this machine has: microphones, serial ports, denoiser, and where settings and ledger lie."""

from __future__ import annotations

from typing import Any

from handsfree.config import default_config_file, default_ledger_file
from handsfree.errors import MicrophoneError, ScaleError
from handsfree.speech import denoise_deepfilter, voice_activity
from handsfree.speech.microphone import list_microphones
from handsfree.weighing.hid_port import udev_rule, usb_scales
from handsfree.weighing.serial_port import serial_ports
from handsfree.wiring.scale_ports import captures_folder


def devices() -> dict[str, Any]:
    """Everything found, as plain values; a missing sound system is said, not raised."""
    trouble = ""
    try:
        microphones = list_microphones()
    except MicrophoneError as error:
        microphones, trouble = [], str(error)
    try:
        usb = [
            {"port": each.address, "description": each.description, "udev_rule": udev_rule(each)}
            for each in usb_scales()
        ]
        usb_trouble = ""
    except ScaleError as error:
        usb, usb_trouble = [], str(error)
    return {
        "microphones": microphones,
        "microphone_trouble": trouble or ("" if microphones else "there is no microphone"),
        "serial_ports": [{"port": port, "description": text} for port, text in serial_ports()],
        "usb_scales": usb,
        "usb_trouble": usb_trouble,
        "denoiser": "deepfilter" if denoise_deepfilter.available() else "spectral",
        "voice_activity": "silero" if voice_activity.available() else "energy",
        "settings_file": str(default_config_file()),
        "ledger_file": str(default_ledger_file()),
        "captures_folder": str(captures_folder()),
    }
