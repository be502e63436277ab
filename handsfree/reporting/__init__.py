"""BALANCE -> PAPER: the carcass sheet on the terminal and in HTML, and exports."""
