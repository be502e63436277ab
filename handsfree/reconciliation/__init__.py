"""ENTRIES -> BALANCE: pieces against dressed weight, with an uncertainty budget and a verdict."""
