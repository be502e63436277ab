"""Pure: words as the pieces a token model writes, by byte pair merging in the order of a vocabulary.

Sennrich, Haddow, Birch, "Neural Machine Translation of Rare Words with Subword Units" (2016): neighbours are
joined as long as they make a piece, the earliest learned first. In the vocabularies read here pieces stand in
the order they were learned, then single characters.
"""

from __future__ import annotations

from itertools import pairwise

from handsfree.errors import ModelError

_SPACE = "\u2581"
"""How these vocabularies write the space before a word."""
_MARKS = 3
"""Unknown, begin and end."""
_LONG = 128


class WordPieces:
    """A vocabulary of word pieces.

    Args:
        data: For each piece its length and its UTF-8 bytes; a length of 128 and more is two bytes, the low
            seven bits first.

    Raises:
        ModelError: It is no such vocabulary.
    """

    def __init__(self, data: bytes) -> None:
        pieces = _read(data)
        self._number: dict[str, int] = {}
        for number, piece in enumerate(pieces[_MARKS:], _MARKS):
            try:
                self._number[piece.decode("utf-8")] = number
            except UnicodeDecodeError:
                continue  # a single byte of a longer character
        if _SPACE not in self._number:
            raise ModelError(
                "the vocabulary of the Moonshine model cannot be used: it has no mark for a new word",
                next_step="fetch the model again, or take it out of the settings",
            )

    def piece(self, text: str) -> int:
        """The number of one piece.

        Raises:
            ModelError: There is no such piece.
        """
        number = self._number.get(text)
        if number is None:
            raise ModelError(
                f"the vocabulary of the Moonshine model has no piece {text!r}",
                next_step="fetch the model again, or take it out of the settings",
            )
        return number

    def spelled(self, word: str) -> tuple[int, ...]:
        """The pieces of a word with the space before it.

        Raises:
            ModelError: A character of the word is in no piece.
        """
        parts = [_SPACE, *word]
        while True:
            joined = [
                (self._number[pair], place)
                for place, pair in enumerate(map("".join, pairwise(parts)))
                if pair in self._number
            ]
            if not joined:
                return tuple(map(self.piece, parts))
            _, place = min(joined)
            parts[place : place + 2] = ["".join(parts[place : place + 2])]


def _read(data: bytes) -> list[bytes]:
    pieces, at = [], 0
    while at < len(data):
        length = data[at]
        at += 1
        if length >= _LONG and at < len(data):
            length += _LONG * data[at] - _LONG
            at += 1
        pieces.append(data[at : at + length])
        at += length
    if at != len(data) or len(pieces) <= _MARKS:
        raise ModelError(
            "the vocabulary of the Moonshine model is cut short",
            next_step="fetch the model again, or take it out of the settings",
        )
    return pieces
