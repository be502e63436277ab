"""A sound card without hardware: a PulseAudio null sink whose monitor is the default microphone.

For PortAudio this is a real capture device. What is played into it with `play` is what a child
process started with `environment()` hears. Needs the Debian packages pulseaudio, pulseaudio-utils,
libasound2-plugins and libportaudio2. Nothing of the user's own sound system is touched.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import threading
from pathlib import Path
from types import TracebackType
from typing import Self

_SINK = "larder"
_SYSTEM_ALSA = Path("/usr/share/alsa/alsa.conf")
_OPTIONS = ("--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no")
_START_S = 20.0
_POLL_S = 0.05


def why_not() -> str:
    """Why there can be no virtual sound card here, "" when there can."""
    missing = [name for name in ("pulseaudio", "pactl", "paplay") if shutil.which(name) is None]
    if missing:
        return f"{', '.join(missing)} not installed (Debian: pulseaudio, pulseaudio-utils)"
    if not _SYSTEM_ALSA.exists():
        return f"{_SYSTEM_ALSA} is missing (Debian: libasound2-data)"
    if not list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        return "the ALSA plug-in for PulseAudio is missing (Debian: libasound2-plugins)"
    return ""


class VirtualSoundCard:
    """Use as a context; `stop` and `start` within it are the plug pulled and put back.

    Raises:
        RuntimeError: PulseAudio is not installed or does not start.
    """

    def __init__(self, rate_hz: int = 16_000) -> None:
        if reason := why_not():
            raise RuntimeError(reason)
        self._rate_hz = rate_hz
        # A short path: a Unix socket's name has room for about a hundred characters.
        self._folder = Path(tempfile.mkdtemp(prefix="larder-"))
        self._alsa = self._folder / "asound.conf"
        self._alsa.write_text(
            f'pcm.!default {{ type pulse device "{_SINK}.monitor" }}\nctl.!default {{ type pulse }}\n'
        )
        self._daemon: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()
        shutil.rmtree(self._folder, ignore_errors=True)

    def environment(self) -> dict[str, str]:
        """The environment in which a process hears and plays to this card."""
        return {
            **{name: value for name, value in os.environ.items() if not name.startswith("PULSE_")},
            "XDG_RUNTIME_DIR": str(self._folder),
            "XDG_CONFIG_HOME": str(self._folder),
            "PULSE_COOKIE": str(self._folder / "cookie"),
            "ALSA_CONFIG_PATH": f"{_SYSTEM_ALSA}:{self._alsa}",
        }

    def start(self) -> None:
        """Start the card and wait until it answers."""
        sink = f"module-null-sink sink_name={_SINK} rate={self._rate_hz} channels=1 format=s16le"
        self._daemon = subprocess.Popen(
            ["pulseaudio", "-n", *_OPTIONS, "-L", "module-native-protocol-unix", "-L", sink],
            env=self.environment(),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        pause = threading.Event()
        for _ in range(round(_START_S / _POLL_S)):
            if self._daemon.poll() is not None:
                break
            asked = subprocess.run(
                ["pactl", "list", "short", "sinks"], env=self.environment(), capture_output=True, check=False
            )
            if _SINK.encode() in asked.stdout:
                return
            pause.wait(_POLL_S)
        self.stop()
        raise RuntimeError("pulseaudio did not start")

    def stop(self) -> None:
        """Take the card away. Safe to call twice."""
        daemon, self._daemon = self._daemon, None
        if daemon is None:
            return
        daemon.terminate()
        try:
            daemon.wait(5)
        except subprocess.TimeoutExpired:
            daemon.kill()
            daemon.wait()
        shutil.rmtree(self._folder / "pulse", ignore_errors=True)

    def play(self, wav: Path) -> subprocess.Popen[bytes]:
        """Start playing a wav into the card; `wait()` on the result for its end."""
        return subprocess.Popen(["paplay", "-d", _SINK, str(wav)], env=self.environment())
