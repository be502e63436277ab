"""DECISION -> ENTRY, for good: append-only entries in a digest chain."""
