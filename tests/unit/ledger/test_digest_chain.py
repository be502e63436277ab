from __future__ import annotations

import hashlib
import json
import math
import shutil
import subprocess
from datetime import UTC, datetime, timedelta, timezone

import pytest

from handsfree.errors import EntryError
from handsfree.ledger import entries as e
from handsfree.ledger.digest import ZERO_DIGEST, canonical, chain, digest_of, rfc3339
from handsfree.testing.ledger_entries import ONE_OF_EACH, POSTED_AT


@pytest.mark.parametrize(
    ("message", "digest"),
    [
        # FIPS 180-4's worked examples of SHA-256 (csrc.nist.gov, "Cryptographic Standards and
        # Guidelines: examples with intermediate values", SHA256.pdf): one block, two blocks.
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
    ],
)
def test_the_hash_function_gives_the_published_digests(message: bytes, digest: str) -> None:
    assert hashlib.sha256(message).hexdigest() == digest


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs sha256sum of GNU coreutils")
def test_an_entrys_digest_is_what_sha256sum_says_of_its_line_written_by_hand() -> None:
    line = (
        '{"body":{"carcass":1,"plan":"","tag":"4½"},"kind":"CarcassOpened",'
        '"posted_at":"2026-01-31T07:05:09.000000Z","previous":"' + "0" * 64 + '","seq":1,'
        '"session":"s \\"1\\"","t_ns":1500000000}'
    )
    outside = subprocess.run(["sha256sum"], input=line.encode(), capture_output=True, check=True)
    (made,) = chain(
        [e.CarcassOpened(1, "4½")],
        session='s "1"',
        t_ns=1_500_000_000,
        posted_at="2026-01-31T07:05:09.000000Z",
        after=(0, ZERO_DIGEST),
    )
    assert made[0].digest == outside.stdout.decode().split()[0]


def test_the_envelope_put_together_is_the_canonical_json_of_the_whole() -> None:
    for entry, text in chain(ONE_OF_EACH, session="ü", t_ns=-1, posted_at=POSTED_AT, after=(7, "a" * 64)):
        whole = {
            "body": json.loads(text),
            "kind": type(entry.body).__name__,
            "posted_at": entry.posted_at,
            "previous": entry.previous,
            "seq": entry.seq,
            "session": entry.session,
            "t_ns": entry.t_ns,
        }
        assert entry.digest == hashlib.sha256(canonical(whole).encode()).hexdigest()


def test_canonical_json_has_sorted_keys_no_spaces_and_plain_characters() -> None:
    assert canonical({"b": [1, None, True], "a": "ü\n", "B": 1.5}) == '{"B":1.5,"a":"ü\\n","b":[1,null,true]}'


@pytest.mark.parametrize("number", [0.1, 1 / 3, 1e300, 5e-324, -0.0, 2041.241452319315, 1e16, 123456789.0])
def test_a_float_is_written_so_that_it_reads_back_to_the_same_double(number: float) -> None:
    text = canonical(number)
    again = json.loads(text)
    assert again == number
    assert math.copysign(1, again) == math.copysign(1, number)
    assert canonical(again) == text


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, "\udc00", {1, 2}, b"bytes"])
def test_what_json_has_no_form_for_is_refused(bad: object) -> None:
    with pytest.raises(EntryError, match="cannot be written in the ledger"):
        canonical({"value": bad})


def test_any_changed_part_of_an_entry_changes_the_digest() -> None:
    parts = {
        "seq": 2,
        "posted_at": POSTED_AT,
        "session": "s",
        "t_ns": 3,
        "kind": "NoteMade",
        "body_text": '{"carcass":null,"text":"a"}',
        "previous": ZERO_DIGEST,
    }
    others = {
        "seq": 3,
        "posted_at": POSTED_AT.replace("09", "10"),
        "session": "t",
        "t_ns": 4,
        "kind": "TroubleNoted",
        "body_text": '{"carcass":null,"text":"b"}',
        "previous": "1" + ZERO_DIGEST[1:],
    }
    digests = {digest_of(**(parts | {name: value})) for name, value in others.items()}  # type: ignore[arg-type]
    assert len(digests | {digest_of(**parts)}) == 8  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        (e.CarcassOpened("1"), "carcass"),  # type: ignore[arg-type]
        (e.CarcassOpened(True), "carcass"),
        (e.CarcassOpened(2**63), "carcass"),
        (e.CarcassOpened(1, None), "tag"),  # type: ignore[arg-type]
        (e.ContainerSet("bench", 1.0, "1 kg"), "mass_mg"),  # type: ignore[arg-type]
        (e.ContainerSet("bench", 1, "1 kg", "2"), "u_mg"),  # type: ignore[arg-type]
        (e.SessionEnded("x", {"a": "b"}), "counts"),  # type: ignore[dict-item]
        (e.SessionEnded("x", ["a"]), "counts"),  # type: ignore[arg-type]
    ],
)
def test_a_value_of_the_wrong_kind_is_refused_by_name(body: e.Body, field: str) -> None:
    with pytest.raises(EntryError, match=f"the {field} of {type(body).__name__}"):
        chain([body], session="s", t_ns=0, posted_at=POSTED_AT, after=(0, ZERO_DIGEST))


def test_a_posting_time_is_written_in_utc_with_microseconds() -> None:
    wall = datetime(2026, 1, 31, 8, 5, 9, tzinfo=timezone(timedelta(hours=1)))
    assert rfc3339(wall) == "2026-01-31T07:05:09.000000Z"
    assert rfc3339(datetime(2026, 1, 31, 7, 5, 9, 12, tzinfo=UTC)) == "2026-01-31T07:05:09.000012Z"
    with pytest.raises(EntryError, match="time zone"):
        rfc3339(datetime(2026, 1, 31))  # noqa: DTZ001 (that is the fault)


def test_an_entry_needs_a_session() -> None:
    with pytest.raises(EntryError, match="session"):
        chain([], session="", t_ns=0, posted_at=POSTED_AT, after=(0, ZERO_DIGEST))
