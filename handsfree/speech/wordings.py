"""Wordings of one meaning count together: "tag one oh two" and "tag one zero two" tell the same tag. Pure."""

from __future__ import annotations

from dataclasses import replace

from handsfree.speech.messages import Hypothesis
from handsfree.speech.ports import Recognition


def by_meaning(heard: Recognition) -> Recognition:
    """The same result with one reading for each meaning, the likeliest wording standing for all of them.

    Their probabilities add up, for they exclude each other; so the best reading may become another one.
    Readings without a meaning stay as they are. An engine that gives no probabilities is left alone: how
    likely the best is by itself is all there is to go by.
    """
    if not heard.hypotheses or any(each.probability is None for each in heard.hypotheses):
        return heard
    found: dict[object, Hypothesis] = {}
    for each in heard.hypotheses:
        key = each.text if each.meaning is None else each.meaning
        first = found.setdefault(key, replace(each, probability=0.0))
        found[key] = replace(first, probability=(first.probability or 0.0) + (each.probability or 0.0))
    # A stable sort: of two that are as likely, rounding apart, the engine's own order stands.
    ordered = sorted(found.values(), key=lambda each: -round(each.probability or 0.0, 9))
    gained = (ordered[0].probability or 0.0) - (heard.hypotheses[0].probability or 0.0)
    return replace(heard, hypotheses=tuple(ordered), confidence=min(1.0, heard.confidence + gained))
