"""Trains the rejection gate on the development half, chooses thresholds by rule, writes gate.toml.

Run: `python tests/benchmarks/hearing/train_gate.py [--write] [--half test]`. Without `--half test`
nothing of the test half is touched; with it the trained gate is also shown on the test half. Right
readings of phrases by voices in noise and of real people's words from a list of twenty count as
right; wrong readings, real talk, words off the list, pieces of calls, the read-back's sentences,
bangs and saw count as wrong. Right and wrong weigh the same in sum, so a probability supposes that
every other utterance is a phrase. scikit-learn checks the area under the curve and the calibration.

Thresholds, by rule: the highest at which at most 5 % of right phrases, clean and at 20 dB, are refused;
for a grave command, 10 %, and above all that development talk reached as a command.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
from evidence_seen import Seen, gathered
from halves import Half
from intervals import expected_calibration_error, reliability, share
from scipy.optimize import minimize
from scipy.special import expit, logit
from sklearn.calibration import calibration_curve
from sklearn.metrics import roc_auc_score, roc_curve

import handsfree.speech
from handsfree.speech.evidence import FIGURES
from handsfree.speech.gate import GATE_FILE, Gate, RivalOdds

_PENALTY = 0.02
"""Weight of the squared coefficients: enough to keep ten correlated figures from fighting."""
_MOST_REFUSED = 0.05


def train(seen: list[Seen]) -> Gate:
    """The weights that make right and wrong readings likeliest."""
    heard = [one for one in seen if one.found]
    figures, right = np.array([one.figures for one in heard]), np.array([one.right for one in heard])
    lowest, highest = np.quantile(figures, [0.01, 0.99], axis=0)
    held = np.clip(figures, lowest, highest)
    centres, scales = held.mean(axis=0), held.std(axis=0) + 1e-9
    weight = weights(heard)
    found = _fitted((held - centres) / scales, right, weight, _PENALTY)
    columns = (found[1:], centres, scales, lowest, highest)
    gate = Gate(float(found[0]), *(tuple(map(float, column)) for column in columns))
    return Gate(
        gate.intercept, gate.weights, gate.centres, gate.scales, gate.lowest, gate.highest,
        _rival_odds(gate, heard, weight),
    )  # fmt: skip


def _rival_odds(gate: Gate, heard: list[Seen], weight: np.ndarray) -> RivalOdds:
    best = logit(np.clip(chances(gate, heard), 1e-9, 1 - 1e-9))
    rows = [
        (gap, best[place], bool(one.said) and text == one.said, weight[place])
        for place, one in enumerate(heard)
        for gap, text in zip(one.behind, one.found[1:], strict=False)
    ]
    table = np.array([row[:2] for row in rows])
    found = _fitted(table, np.array([row[2] for row in rows]), np.array([row[3] for row in rows]), 0.0)
    return RivalOdds(*map(float, found))


def _fitted(x: np.ndarray, y: np.ndarray, weight: np.ndarray, penalty: float) -> np.ndarray:
    def cost(at: np.ndarray) -> float:
        chance = np.clip(expit(at[0] + x @ at[1:]), 1e-9, 1 - 1e-9)
        lost = -np.sum(weight * np.where(y, np.log(chance), np.log(1 - chance)))
        return float(lost + penalty * np.mean(at[1:] ** 2))

    return np.asarray(minimize(cost, np.zeros(1 + x.shape[1]), method="BFGS").x)


def weights(heard: list[Seen]) -> np.ndarray:
    """Right and wrong readings weigh the same in sum; so does each source of sound within them."""
    source = np.array(["voices" if one.condition.endswith(" dB") and one.condition[0].isdigit()
                       else one.condition for one in heard])  # fmt: skip
    right = np.array([one.right for one in heard])
    weight = np.zeros(len(right))
    for outcome in (True, False):
        share_of = {
            name: 3.0 if name in ("voices", "talk") else 1.0 for name in set(source[right == outcome])
        }
        for name, part in share_of.items():
            here = (right == outcome) & (source == name)
            weight[here] = 0.5 * part / sum(share_of.values()) / here.sum()
    return weight


def chances(gate: Gate, heard: list[Seen]) -> np.ndarray:
    """The gate's probability of each best reading."""
    held = np.clip(np.array([one.figures for one in heard]), gate.lowest, gate.highest)
    return np.asarray(expit(gate.intercept + (held - gate.centres) / gate.scales @ np.array(gate.weights)))


def table(gate: Gate, seen: list[Seen], threshold: float = 0.5) -> list[str]:
    """Right kept, wrong passed and refused, by condition, in percent of all clips."""
    rows = []
    for name in dict.fromkeys(one.condition for one in seen):
        here = [one for one in seen if one.condition == name]
        heard = [one for one in here if one.found]
        passed = chances(gate, heard) >= threshold if heard else np.zeros(0, bool)
        right = np.array([one.right for one in heard], dtype=bool)
        n, kept, wrong = len(here), int((right & passed).sum()), int((~right & passed).sum())
        rows.append(
            f"{name:>19}: n {n:4d}  right {share(kept, n)}  wrong {share(wrong, n)}  "
            f"refused {100 * (n - kept - wrong) / n:5.1f}  (no gate: right {100 * right.sum() / n:5.1f}, "
            f"in 3 {100 * sum(one.said in one.found for one in here) / n:5.1f})"
        )
    return rows


def curve(gate: Gate, seen: list[Seen]) -> list[str]:
    """Area under the ROC curve, operating points, reliability; scikit-learn beside."""
    heard = [one for one in seen if one.found]
    right, chance, weight = np.array([o.right for o in heard]), chances(gate, heard), weights(heard)
    off, on, at = roc_curve(right, chance, sample_weight=weight)
    lines = [
        f"area under the ROC curve {roc_auc_score(right, chance, sample_weight=weight):.4f} (scikit-learn)"
    ]
    for most in (0.01, 0.02, 0.05, 0.1):
        place = int(np.searchsorted(off, most, side="right")) - 1
        kept = int((right & (chance >= at[place])).sum())
        lines.append(
            f"  wrong readings passed <= {100 * most:4.1f} % (weighted): "
            f"threshold {min(1.0, at[place]):.3f}, right kept {share(kept, int(right.sum()))}, "
            f"weighted {100 * on[place]:.1f}"
        )
    drawn = np.random.default_rng(1).choice(len(heard), 4000, p=weight / weight.sum())
    rows = reliability(chance[drawn], right[drawn])
    lines.append("reliability (mean chance -> share right, of 4000 drawn by weight): "
                 + ", ".join(f"{c:.2f} -> {s:.2f}" for c, s, _ in rows))  # fmt: skip
    theirs = calibration_curve(right[drawn], chance[drawn], n_bins=10)
    apart = max(abs(s - t) for (_, s, _), t in zip(rows, theirs[0], strict=True))
    lines.append(f"expected calibration error {expected_calibration_error(rows):.3f}; "
                 f"scikit-learn's curve differs by at most {apart:.1e}")  # fmt: skip
    return lines


def thresholds(gate: Gate, seen: list[Seen]) -> list[str]:
    """What the rule of the module's first lines gives."""
    heard = [one for one in seen if one.found]
    chance = chances(gate, heard)

    def least(share_refused: float, *, command: bool | None) -> float:
        good = [
            c for c, one in zip(chance, heard, strict=True)
            if one.right and one.condition in ("40 dB", "20 dB") and command in (None, one.command)
        ]  # fmt: skip
        return float(np.quantile(good, share_refused))

    def highest(*, command: bool) -> float:
        off = [c for c, one in zip(chance, heard, strict=True) if not one.said and one.command == command
               and one.condition in ("talk", "the read-back")]  # fmt: skip
        return max(off, default=0.0)

    calls, commands = highest(command=False), highest(command=True)
    return [
        f"call {least(_MOST_REFUSED, command=False):.3f}; talk read as a call reaches {calls:.3f}",
        f"command {least(_MOST_REFUSED, command=True):.3f}; talk read as a command reaches {commands:.3f}",
        f"grave command {least(2 * _MOST_REFUSED, command=True):.3f}",
        f"answer {least(_MOST_REFUSED, command=None):.3f}",
    ]


def text_of(gate: Gate, notes: list[str]) -> str:
    """The data file."""
    lines = [
        "# The rejection gate of the embedded engine: a logistic weighing of what speaks for a reading.",
        "# Written by tests/benchmarks/hearing/train_gate.py --write; not by hand.",
        *(f"# {note}" for note in notes),
        "",
        f"intercept = {gate.intercept:.5f}",
    ]
    for row in zip(FIGURES, gate.weights, gate.centres, gate.scales, gate.lowest, gate.highest, strict=True):
        names = ("weight", "centre", "scale", "lowest", "highest")
        lines += ["", f"[{row[0]}]"]
        lines += [f"{name} = {value:.5f}" for name, value in zip(names, row[1:], strict=True)]
    rival = gate.rival
    lines += ["", "# Log odds that a rival reading is what was said.", "[rival]"]
    lines += [f"{name} = {getattr(rival, name):.5f}" for name in ("intercept", "behind", "best")]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Train, print, and write when asked."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--write", action="store_true")
    options.add_argument("--half", choices=("development", "test"), default="development")
    asked = options.parse_args()
    development = gathered("development")
    gate = train(development)
    notes = [
        "Development, threshold 0.5, percent of clips [95 % Wilson interval]:",
        *table(gate, development),
    ]
    notes += [*curve(gate, development), "Thresholds by the rule:", *thresholds(gate, development)]
    shown: dict[Half, list[Seen]] = {"test": gathered("test")} if asked.half == "test" else {}
    for seen in shown.values():
        notes += [
            "Test half (other voices, people, noises), threshold 0.5:",
            *table(gate, seen),
            *curve(gate, seen),
        ]
    text = text_of(gate, notes)
    print(text)
    if asked.write:
        Path(handsfree.speech.__file__).with_name(GATE_FILE).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
