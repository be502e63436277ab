"""Bytes of a line as readable text and back: the escapes of a Python string literal. Pure."""

from __future__ import annotations

import re

_NAMED = {"\\": "\\", "'": "'", '"': '"', "a": "\a", "b": "\b"}
_NAMED |= {"f": "\f", "n": "\n", "r": "\r", "t": "\t", "v": "\v"}
_ESCAPE = re.compile(r"\\(x[0-9A-Fa-f]{2}|[0-7]{1,3}|[\\'\"abfnrtv]|)")
_QUOTED = re.compile(r"b?(['\"])(.*)\1", re.DOTALL)


def escape(data: bytes) -> str:
    r"""Text of printable ASCII for any bytes: `b"1 kg\r\n"` becomes `1 kg\r\n` with four more characters."""
    text = data.decode("latin-1").encode("unicode_escape").decode("ascii")
    return text.replace("'", "\\'").replace('"', '\\"')  # a bare quote could be taken for a literal's


def unescape(text: str) -> bytes:
    """The bytes of a line written with escapes, with or without the quotes of a literal around it.

    Raises:
        ValueError: A backslash that begins no escape, or a character beyond one byte.
    """
    quoted = _QUOTED.fullmatch(text)
    body = quoted[2] if quoted else text

    def one(match: re.Match[str]) -> str:
        code = match[1]
        if not code:
            raise ValueError(f"a backslash that begins no escape in {text!r}")
        if code in _NAMED:
            return _NAMED[code]
        return chr(int(code[1:], 16) if code[0] == "x" else int(code, 8))

    try:
        return _ESCAPE.sub(one, body).encode("latin-1")
    except UnicodeEncodeError:
        raise ValueError(f"a character that is no byte in {text!r}") from None
