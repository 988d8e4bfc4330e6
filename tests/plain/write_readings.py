"""Write down what the plain reading says of fixed stories: `python -m tests.plain.write_readings [count]`."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from tests.plain.judge import judge
from tests.stories import Story


def reading(story: Story) -> dict[str, list[Any]]:
    found = judge(story.lines, story.guideline, story.now, story.also)
    return {
        name: [
            one["use_by"].isoformat() if one["use_by"] else None,
            one["best_by"].isoformat() if one["best_by"] else None,
            one["form"],
            one["standing"],
            sorted({what for what, _ in one["breaches"] if "." not in what}),
        ]
        for name, one in found.items()
    }


def main(count: int) -> None:
    rows = {str(seed): reading(Story(seed)) for seed in range(count)}
    text = ",\n".join(f"{json.dumps(seed)}: {json.dumps(row)}" for seed, row in rows.items())
    (Path(__file__).parent / "readings.json").write_text("{\n" + text + "\n}\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 700)
