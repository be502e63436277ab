"""Rehearsals: session folders made by us, with sound, scale streams and the truth, to measure on."""
