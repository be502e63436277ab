"""The sentences of the errors."""

from __future__ import annotations

import pickle

import pytest

from handsfree import errors

KINDS = [
    kind
    for kind in vars(errors).values()
    if isinstance(kind, type)
    and issubclass(kind, errors.HandsfreeError)
    and kind is not errors.HandsfreeError
]


def test_what_happened_what_was_kept_and_what_to_do_are_sentences() -> None:
    error = errors.LedgerFullError(
        "the disk is full",
        kept="everything answered is in the ledger",
        next_step="make room and say it again",
    )
    assert str(error) == (
        "The disk is full. Everything answered is in the ledger. Make room and say it again."
    )


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("grammar/own.toml:3: no such cut", "grammar/own.toml:3: no such cut."),
        ("https://models.example/x.zip is gone", "https://models.example/x.zip is gone."),
        ("'xqzzt' has no pronunciation", "'xqzzt' has no pronunciation."),
        ("is it plugged in?", "Is it plugged in?"),
    ],
)
def test_paths_addresses_and_quoted_words_keep_their_letters(what: str, said: str) -> None:
    assert str(errors.ConfigError(what)) == said


@pytest.mark.parametrize("kind", KINDS)
def test_every_error_is_a_standard_type_too_and_survives_pickling(kind: type[errors.HandsfreeError]) -> None:
    error = kind("it broke", kept="nothing was lost", next_step="mend it")
    again = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own bytes
    assert (type(again), again.what, again.kept, again.next_step) == (
        kind,
        "it broke",
        "nothing was lost",
        "mend it",
    )
    assert str(again) == str(error)
    assert any(not issubclass(base, errors.HandsfreeError) for base in kind.__mro__[1:-3])
