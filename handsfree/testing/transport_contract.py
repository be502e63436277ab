"""What every transport must do. Subclass, give a maker, and the tests of the suite run on it."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.weighing.ports import Chunk, Ended, Nothing, Received, Transport

_TRIES = 200
"""Calls after which bytes that have not come are missing; each waits at most 50 ms."""


class TransportContract:
    """The suite. A subclass named Test... overrides `make` (and `finite` for recordings)."""

    finite = False
    """Whether the stream ends by itself after its bytes."""

    def make(self, pieces: Sequence[bytes]) -> Transport:
        """A transport named "bench" whose other end sends these pieces, one after the other."""
        raise NotImplementedError

    def wire(self, pieces: Sequence[bytes]) -> bytes:
        """What of these pieces comes out of the transport; most give the bytes as they are."""
        return b"".join(pieces)

    def test_every_byte_arrives_once_and_in_order(self) -> None:
        """Chunks may be cut anywhere, but nothing is lost, doubled or swapped."""
        pieces = [b"ST,GS   0.005,kg\r\n", b"\x00\xff\x80junk", b"\r\n", bytes(range(256))]
        chunks = self._chunks(self.make(pieces), len(self.wire(pieces)))
        assert b"".join(chunk.data for chunk in chunks) == self.wire(pieces)

    def test_no_chunk_is_empty(self) -> None:
        """Nothing yet is `Nothing`, not a chunk without bytes."""
        assert all(chunk.data for chunk in self._chunks(self.make([b"1.000 kg\r\n"]), 10))

    def test_stamps_never_go_back(self) -> None:
        """Time of arrival in nanoseconds from the session's start."""
        transport = self.make([b"1.000 kg\r\n"] * 5)
        stamps = [chunk.t_ns for chunk in self._chunks(transport, 50)]
        assert stamps == sorted(stamps)
        assert stamps[0] >= 0

    def test_a_stream_without_bytes_says_nothing_or_ended_and_never_blocks(self) -> None:
        """A live port waits for more; a recording is over."""
        received = self.make([]).receive(0.01)
        assert isinstance(received, Ended if self.finite else Nothing)

    def test_after_its_last_byte_a_live_port_says_nothing_and_a_recording_ended(self) -> None:
        """Nothing yet, lost and ended are three different results."""
        transport = self.make([b"1.000 kg\r\n"])
        self._chunks(transport, 10)
        assert isinstance(transport.receive(0.01), Ended if self.finite else Nothing)

    def test_after_close_it_has_ended_for_good(self) -> None:
        """Closing twice is safe."""
        transport = self.make([b"1.000 kg\r\n"])
        transport.receive(0.01)
        transport.close()
        transport.close()
        assert isinstance(transport.receive(0.01), Ended)
        assert isinstance(transport.receive(0.01), Ended)

    def test_it_may_be_closed_before_its_first_use(self) -> None:
        """A session that fails to start closes everything it made."""
        transport = self.make([])
        transport.close()
        assert isinstance(transport.receive(0.01), Ended)

    def test_sending_is_harmless_before_and_after_the_end(self) -> None:
        """A request to a port that is not there is lost, not an error."""
        transport = self.make([])
        transport.close()
        transport.send(b"W\r\n")

    def test_it_knows_its_scale(self) -> None:
        """The name travels with every message."""
        assert self.make([]).scale == "bench"

    @staticmethod
    def _chunks(transport: Transport, wanted: int) -> list[Chunk]:
        """Chunks until so many bytes have come."""
        chunks: list[Chunk] = []
        for _ in range(_TRIES):
            received: Received = transport.receive(0.05)
            if isinstance(received, Chunk):
                chunks.append(received)
            if sum(len(chunk.data) for chunk in chunks) >= wanted:
                return chunks
        raise AssertionError(f"{chunks} instead of {wanted} bytes")
