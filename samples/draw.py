"""Draw the demo packets again: `python samples/draw.py` from the checkout.

Needs Pillow, numpy, opencv, reportlab and pillow-heif. The same library versions and faces give
the same bytes. Everything drawn is invented.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from drawing import people, scenes, settings
from drawing.canvas import Fonts

HERE = Path(__file__).resolve().parent
FIRST, RENEWAL = "elective-residence-first-issue", "elective-residence-renewal"


def main() -> None:
    """Parse the options and draw."""
    parser = argparse.ArgumentParser(description="Draw the invented demo packets.")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to draw into")
    parser.add_argument("--mrz-font", help="face of the machine-readable lines, OCR-B best")
    parser.add_argument("--hand-font", help="face of signatures and filled-in entries")
    options = parser.parse_args()
    fonts = Fonts(HERE.parent / "fonts", options.mrz_font, options.hand_font)
    studio = scenes.Studio(root=options.out, fonts=fonts)
    scenes.demo(studio, people.DEMO)
    scenes.batch_client(studio, people.CLIENT_A, "batch/client-a", "wood")
    scenes.batch_renewal(studio, people.CLIENT_B, "batch/client-b")
    scenes.batch_faulty(studio, people.CLIENT_C, "batch/client-c")
    _settings(studio)
    studio.write_truth()


def _settings(studio: scenes.Studio) -> None:
    packets = (
        ("demo", people.DEMO, FIRST, "all", "married"),
        ("batch/client-a", people.CLIENT_A, FIRST, "written", "single"),
        ("batch/client-b", people.CLIENT_B, RENEWAL, "written", "married"),
        ("batch/client-c", people.CLIENT_C, FIRST, "written", "married"),
    )
    for folder, person, rule_set, pages, civil_status in packets:
        text = settings.packet_toml(
            person,
            rule_set=rule_set,
            pages=pages,
            civil_status=civil_status,
        )
        studio.path(f"{folder}/packet.toml").write_text(text)
        studio.path(f"{folder}/form/SCAN-ME.txt").write_text(
            "Scan the filled-in and signed form into this folder, every page, then build again.\n"
        )


if __name__ == "__main__":
    main()
