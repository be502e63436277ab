"""LEDGER -> SCREEN: what stands in the ledger, to be read from the block, and a twin of every tone."""
