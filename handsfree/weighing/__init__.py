"""BYTES -> LOAD CHANGE: from a scale's bytes to what was put on or taken off."""
