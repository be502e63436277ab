"""UTTERANCE + LOAD CHANGE -> DECISION: which call belongs to which weight, or a question."""
