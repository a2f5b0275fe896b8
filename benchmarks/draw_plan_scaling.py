"""
Draw what benchmarks/plan_tables.py printed: python benchmarks/draw_plan_scaling.py RESULTS.txt [PICTURE.svg].

Seconds of CPU and of wall against the number of workers, both axes logarithmic, the largest gap at every point.
"""

from __future__ import annotations

import math
import re
import sys
from pathlib import Path

ROW = re.compile(r"tables\s+(\d+) workers.*wall\s+([\d.]+) s, CPU\s+([\d.]+) s, load ([\d.]+);.*largest gap ([\d.]+)%")
PICTURE = Path(__file__).parents[1] / "docs" / "science" / "pictures" / "campaign-scaling.svg"
LEFT, RIGHT, TOP, FOOT = 60.0, 600.0, 40.0, 260.0


def picture(rows: list[tuple[float, float, float, str]]) -> str:
    """One SVG: workers, CPU seconds, wall seconds and gap of each row."""
    most = max(max(cpu, wall) for _, cpu, wall, _ in rows)
    low, high = -1.0, math.ceil(math.log10(most))
    first, last = math.log10(rows[0][0]), math.log10(rows[-1][0])

    def x(workers: float) -> float:
        return LEFT + (RIGHT - LEFT - 20) * (math.log10(workers) - first) / (last - first) + 10

    def y(seconds: float) -> float:
        return FOOT - (FOOT - TOP) * (math.log10(max(seconds, 0.1)) - low) / (high - low)

    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 310" role="img" font-family="sans-serif" '
        'font-size="12"><title>Campaign size against time and gap</title>'
        '<rect width="640" height="310" fill="#ffffff"/>'
    ]
    for power in range(int(low), int(high) + 1):
        at = y(10.0**power)
        parts.append(f'<line x1="{LEFT}" x2="{RIGHT}" y1="{at:.1f}" y2="{at:.1f}" stroke="#d4dadd"/>')
        parts.append(f'<text x="{LEFT - 8}" y="{at + 4:.1f}" text-anchor="end" fill="#5a656d">{10.0**power:g} s</text>')
    for workers, cpu, _, gap in rows:
        parts.append(
            f'<text x="{x(workers):.1f}" y="{FOOT + 18}" text-anchor="middle" fill="#1c2328">{workers:g}</text>'
        )
        parts.append(
            f'<text x="{x(workers):.1f}" y="{y(cpu) - 10:.1f}" text-anchor="middle" fill="#5a656d">{gap}</text>'
        )
    for place, colour, name, dash in ((1, "#1f4f66", "CPU", ""), (2, "#a13a00", "wall", ' stroke-dasharray="5 4"')):
        points = [(x(row[0]), y(float(row[place]))) for row in rows]
        line = " ".join(f"{a:.1f},{b:.1f}" for a, b in points)
        parts.append(f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="2"{dash}/>')
        parts += [f'<circle cx="{a:.1f}" cy="{b:.1f}" r="3.5" fill="{colour}"/>' for a, b in points]
        parts.append(
            f'<text x="{RIGHT - 4}" y="{points[-1][1] - 8:.1f}" text-anchor="end" fill="{colour}">{name}</text>'
        )
    parts.append(f'<text x="{(LEFT + RIGHT) / 2}" y="{FOOT + 40}" text-anchor="middle" fill="#1c2328">workers</text>')
    parts.append(
        f'<text x="{LEFT}" y="20" fill="#1c2328">Seconds to a checked plan; over each point the largest gap</text>'
    )
    return "\n".join([*parts, "</svg>"]) + "\n"


def main() -> None:
    """Read the rows and draw."""
    found = [ROW.search(line) for line in Path(sys.argv[1]).read_text(encoding="utf-8").splitlines()]
    rows = {
        int(m[1]): (float(m[1]), float(m[3]), float(m[2]), "proven" if float(m[5]) == 0 else f"{m[5]} %")
        for m in found
        if m
    }
    target = Path(sys.argv[2]) if len(sys.argv) > 2 else PICTURE
    target.write_text(picture([rows[size] for size in sorted(rows)]), encoding="utf-8")
    print(f"{target}: {len(rows)} sizes")


if __name__ == "__main__":
    main()
