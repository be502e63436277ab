"""Offline voice-and-scale recorder for a game larder.

The folder listing is the data path: sound becomes utterances (`speech`), bytes become load
changes (`weighing`), the two are joined (`pairing`), written for good (`ledger`), balanced
(`reconciliation`), put on paper (`reporting`) and said aloud (`answering`).
"""

__version__ = "0.1.0"
