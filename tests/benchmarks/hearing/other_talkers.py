"""Other talkers and rooms: what was tried on one microphone beside what is shipped.

Run: `python tests/benchmarks/hearing/other_talkers.py WHAT development|test [phrases a voice]`, WHAT one of

* `babble`: phrases in other talkers of equal loudness without a room, cut out at their true places
  (talker_filters.TALKERS, near talker);
* `scenes`: calls of a near talker whose level varies by 3 dB, others across a room, through endpointer and
  gate (talker_scenes.py);
* `rooms`: phrases in the half's room, cut out at their true places (talker_filters.ROOMS).

"right" is the best reading, refused or not; "taken" what the gate lets through at 0.4. Synthetic voices
guide choices; they are no field accuracy. A row is about 40 to 50 phrases: read differences under ten
points as none. Names after WHAT and half pick options.
"""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import material
import talker_filters
from halves import HALVES, Half
from near_talker import NearTalkerFilter, NearTalkerSettings
from sound_store import Track, kept
from talker_scenes import Scene, scene_track

from handsfree.speech.denoise_deepfilter import DeepFilterDenoiser
from handsfree.speech.endpointing import Endpointer
from handsfree.speech.hearing import Listener
from handsfree.speech.messages import RATE_HZ, Samples
from handsfree.speech.pocketsphinx_decoders import base_dictionary
from handsfree.speech.pocketsphinx_engine import PocketSphinxRecogniser
from handsfree.speech.timeline import NS_PER_SAMPLE
from handsfree.speech.voice_activity import SileroVoiceActivity
from handsfree.testing.making_sound import in_blocks
from handsfree.testing.shipped_words import shipped_lexicon, shipped_vocabulary

TAKEN = 0.4
BABBLE_DB = (20, 10, 5)
SCENES = ((0, 0), (1, 10), (3, 15), (3, 10), (3, 6))
"""(how many others, how far below the near talker)."""
ROOMS: dict[Half, tuple[str, ...]] = {
    "development": ("made 0.4 s 6 dB", "made 0.7 s 0 dB"),
    "test": ("kitchen-true-stereo 0", "omni-35-10 0"),
}
"""Made rooms in development; a real kitchen and a real hall in the test half."""


def near(below_db: float, dry: float) -> Callable[[Samples], Samples]:
    """The near-talker filter behind the shipped one."""

    def run(sound: Samples) -> Samples:
        clean = talker_filters.through(DeepFilterDenoiser(dry=dry), sound)
        return talker_filters.through(
            NearTalkerFilter(SileroVoiceActivity(), NearTalkerSettings(below_db=below_db)), clean
        )

    return run


NEAR = {
    "near talker 9 dB, deep 20%": near(9.0, 0.2),
    "near talker 12 dB, deep 20%": near(12.0, 0.2),
    "near talker 12 dB, deep 5%": near(12.0, 0.05),
}
SHIPPED = "deep 5% dry (shipped)"
OPTIONS = {
    "babble": talker_filters.TALKERS | NEAR,
    "scenes": {name: talker_filters.TALKERS[name] for name in (SHIPPED, "deep 20% dry")} | NEAR,
    "rooms": talker_filters.ROOMS,
}


@dataclass(slots=True)
class Count:
    """Phrases of one row."""

    said: int = 0
    right: int = 0
    in_three: int = 0
    taken: int = 0
    wrong: int = 0
    missed: int = 0
    false: int = 0
    sound_s: float = 0.0

    def line(self) -> str:
        """The row's figures."""
        share = 100 / self.said
        text = (
            f"right {self.right * share:5.1f}  in 3 {self.in_three * share:5.1f}  "
            f"taken: right {self.taken * share:5.1f} wrong {self.wrong * share:5.1f}"
        )
        if self.sound_s:
            hourly = 3600 * self.false / self.sound_s
            text += f"  missed {self.missed * share:5.1f}  false an hour {hourly:.0f}"
        return f"{text}  (n {self.said})"


def filtered(track: Track, name: str, what: Callable[[Samples], Samples]) -> Track:
    """The track with its sound through a filter, kept on disk."""
    sound = hashlib.sha256(track.raw.tobytes()).hexdigest()
    return kept(("filtered", name, sound), lambda: Track(track.raw, what(track.raw), track.said))


def cut_out(tracks: Sequence[Track]) -> Count:
    """Phrases at their true places."""
    count = Count()
    lexicon, grammar = shipped_lexicon(base_dictionary()), shipped_vocabulary().listening()
    for track in tracks:
        engine = PocketSphinxRecogniser(lexicon)
        engine.use(grammar)
        for clip in track.clips():
            engine.begin()
            engine.feed(clip.clean)
            heard = engine.finish(3)
            texts = [reading.text for reading in heard.hypotheses]
            right = texts[:1] == [clip.text]
            count.said += 1
            count.right += right
            count.in_three += clip.text in texts
            count.taken += right and heard.confidence >= TAKEN
            count.wrong += bool(texts) and not right and heard.confidence >= TAKEN
    return count


def end_to_end(tracks: Sequence[Track]) -> Count:
    """Phrases as the endpointer finds them and the listener takes them."""
    count = Count()
    lexicon, grammar = shipped_lexicon(base_dictionary()), shipped_vocabulary().listening()
    for track in tracks:
        endpointer = Endpointer(SileroVoiceActivity())
        listener = Listener(PocketSphinxRecogniser(lexicon), grammar)
        heard = [
            u for b in in_blocks(track.clean) for part in endpointer.feed(b) for u in listener.feed(part)
        ]
        touched: set[int] = set()
        for said in track.said:
            first_ns, after_ns = said.first * NS_PER_SAMPLE, said.after * NS_PER_SAMPLE
            over = [n for n, u in enumerate(heard) if u.start_ns < after_ns and u.end_ns > first_ns]
            touched.update(over)
            here = [heard[n] for n in over]
            taken = any(u.accepted and u.text == said.text for u in here)
            count.said += 1
            count.right += any(u.text == said.text for u in here)
            count.in_three += any(said.text in [h.text for h in u.hypotheses] for u in here)
            count.taken += taken
            count.wrong += not taken and any(u.accepted for u in here)
            count.missed += not here
        count.false += sum(u.accepted for n, u in enumerate(heard) if n not in touched)
        count.sound_s += len(track.clean) / RATE_HZ
    return count


def conditions_of(what: str, half: Half) -> list[str]:
    """The conditions of a table, in order."""
    if what == "babble":
        return [f"talkers 3, {snr_db} dB" for snr_db in BABBLE_DB]
    if what == "scenes":
        return [f"{talkers} others, {below_db} dB" for talkers, below_db in SCENES]
    return list(ROOMS[half])


def tracks_of(what: str, half: Half, condition: str, phrases: int) -> list[Track]:
    """The condition's sound, one track a voice."""
    grammar = shipped_vocabulary().listening()
    figures = [int(word) for word in condition.replace(",", "").split() if word.isdecimal()]
    found = []
    for number, voice in enumerate(material.voices(half)):
        texts = material.phrases(grammar, phrases, seed=500 + number)
        if what == "babble":
            found.append(
                material.phrases_track(texts, voice, "talkers 3", figures[1], half=half, seed=number)
            )
        elif what == "scenes":
            scene = Scene(tuple(texts), voice, figures[0], figures[1], half=half, seed=100 + number)
            found.append(scene_track(scene))
        else:
            found.append(
                material.phrases_track(texts, voice, "pink", 40, half=half, seed=number, room=condition)
            )
    return found


def main() -> None:
    what, half = sys.argv[1], HALVES[HALVES.index(sys.argv[2])]  # type: ignore[arg-type]
    phrases = int(sys.argv[3]) if len(sys.argv) > 3 else 10
    conditions, options = [], []
    for name in sys.argv[4:]:
        (options if name in OPTIONS[what] else conditions).append(name)
    for condition in conditions_of(what, half):
        if conditions and condition not in conditions:
            continue
        tracks = tracks_of(what, half, condition, phrases)
        for name, run in OPTIONS[what].items():
            if options and name not in options:
                continue
            heard = [filtered(track, name, run) for track in tracks]
            count = end_to_end(heard) if what == "scenes" else cut_out(heard)
            print(f"{half:12} {condition:20} {name:32} {count.line()}", flush=True)


if __name__ == "__main__":
    main()
