"""Words as the pieces of a vocabulary; checked against a library that does the same merging."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import ModelError
from handsfree.speech.word_pieces import WordPieces

SPACE = "▁"
LEARNED = ["au", "ha", "hau", "nc", "nch", f"{SPACE}h", f"{SPACE}hau", f"{SPACE}haunch", "ch", "un"]
LETTERS = [SPACE, *"achnu"]
PIECES = ["<unk>", "<s>", "</s>", *LEARNED, *LETTERS]


def stored(pieces: list[str]) -> bytes:
    return b"".join(bytes([len(piece.encode())]) + piece.encode() for piece in pieces)


def test_the_earliest_learned_neighbours_are_joined_first() -> None:
    # By hand: "au" is the earliest pair; "ha" is then no pair any more, h and au make "hau"; then n and
    # c, nc and h; the space and "hau"; nothing joins "▁hau" and "nch" but the whole word.
    assert WordPieces(stored(PIECES)).spelled("haunch") == (PIECES.index(f"{SPACE}haunch"),)
    assert WordPieces(stored(PIECES)).spelled("nun") == tuple(map(PIECES.index, (SPACE, "n", "un")))


@given(st.text("achnu", min_size=1, max_size=12))
def test_as_the_reference_library_merges(word: str) -> None:
    # Outside source: the BPE model of the `tokenizers` library, given the same pieces and merges.
    tokenizers = pytest.importorskip("tokenizers", reason="the extra second-ear is not installed")
    vocabulary = {piece: number for number, piece in enumerate(PIECES)}
    merges = [
        (piece[:cut], piece[cut:])
        for piece in LEARNED
        for cut in range(1, len(piece))
        if piece[:cut] in vocabulary and piece[cut:] in vocabulary
    ]
    reference = tokenizers.models.BPE(vocab=vocabulary, merges=merges, fuse_unk=True)
    expected = tuple(token.id for token in reference.tokenize(SPACE + word))
    assert WordPieces(stored(PIECES)).spelled(word) == expected


def test_a_long_piece_has_two_bytes_of_length() -> None:
    # 200 bytes: 200 = 72 + 128, so the low seven bits with the high bit set, then 1.
    long = "a" * 200
    data = stored(PIECES) + bytes([128 + 72, 1]) + long.encode()
    assert WordPieces(data).piece(long) == len(PIECES)


@pytest.mark.parametrize(
    "data", [b"", b"\x05abc", stored(PIECES)[:-1], stored(["<unk>", "<s>", "</s>", "a", "b"])]
)
def test_what_is_no_vocabulary_is_told_in_words(data: bytes) -> None:
    with pytest.raises(ModelError, match="vocabulary of the Moonshine model"):
        WordPieces(data)


def test_a_letter_it_does_not_have_is_told() -> None:
    with pytest.raises(ModelError, match="no piece 'z'"):
        WordPieces(stored(PIECES)).spelled("zz")
