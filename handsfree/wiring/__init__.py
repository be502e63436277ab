"""The composition root: the only place where edges are chosen and joined to the pure stages."""
