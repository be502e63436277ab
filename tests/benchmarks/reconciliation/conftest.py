"""Lets the benchmark's modules find each other when pytest collects them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
