"""Picture the way of a household through the pages in both themes: docs/pictures/journey; see docs/journey.md."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures" / "journey"
WALKS = (
    "tests/test_journey.py",
    "tests/test_journey_heat.py",
    "tests/test_journey_plan.py",
    "tests/test_journey_hand.py",
)
MOST_BYTES = 150_000


def main() -> int:
    """Take the pictures while the tests walk the way; fails where a step or a picture's size does."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    environment = os.environ | {"THAWLINE_PICTURES": str(PICTURES)}
    walk = [sys.executable, "-m", "pytest", "-q", *WALKS, "-k", "not no_script"]
    found = subprocess.run(walk, cwd=ROOT, env=environment, check=False).returncode
    for one in sorted(PICTURES.glob("*.png")):
        if one.stat().st_size > MOST_BYTES:
            print(f"{one.name} has {one.stat().st_size} bytes, {MOST_BYTES} at most", file=sys.stderr)
            found = 1
    return found


if __name__ == "__main__":
    sys.exit(main())
