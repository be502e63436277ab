"""BALANCE -> PAPER: the carcass sheet, its picture, exports and lists."""
