"""Makes the demo session folder: `python demo_audio/make_demo.py [FOLDER]`.

Needs the synthesisers flite and espeak-ng (`apt-get install flite espeak-ng`). Prints what it made:
length, pieces, the sound's levels and size. The scale streams and the truth come out the same on
every machine; the sound does where the synthesisers are of the same version.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from demo_scenario import DRESSED_G, MISSING, scenario

from handsfree.errors import HandsfreeError
from handsfree.testing.rehearsal.session_writer import soundtrack, write_session


def main() -> int:
    """Write the folder and say what is in it."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent / "session"
    story = scenario()
    try:
        write_session(story, folder, sound="flac")
        track = soundtrack(story).astype(np.float64) / 32768
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return 1
    pieces = [row for row in story.truth if row.event == "piece"]
    total_g = sum(row.net_g or 0 for row in pieces)
    size_mb = sum(file.stat().st_size for file in folder.iterdir()) / 1e6
    print(f"{folder}: {story.duration_s:.0f} s, {len(pieces)} pieces, {size_mb:.1f} MB")
    print(
        f"peak {20 * np.log10(np.abs(track).max()):.1f} dBFS, rms {10 * np.log10(np.mean(track**2)):.1f} dBFS"
    )
    print(
        f"dressed {DRESSED_G} g, pieces {total_g} g, unaccounted {DRESSED_G - total_g} g, "
        f"of which never weighed: {MISSING.side} {MISSING.cut} {MISSING.mass_g:.0f} g"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
