"""A small drawn packet for whole-flow tests: invented papers, seconds to build."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

RULE_SET = """\
title_it = "Pratica di prova"
title_en = "Trial application"
source = "common practice, no source"
as_of = 2026-11-25

[form]
title_it = "Modulo di domanda"
title_en = "Application form"
source = "MOD. 209, note (g)"
as_of = 2026-11-25
[form.pages]
1 = 8
2 = 3

[[document]]
folder = "passport"
title_it = "Passaporto"
title_en = "Passport"
kinds = ["passport-spread", "passport-cover", "passport-page"]
need = "required"
source = "common practice, no source"
as_of = 2026-11-25

[[document]]
folder = "means"
title_it = "Mezzi economici"
title_en = "Means"
kinds = ["a4-page", "letter-page", "other"]
need = "required"
source = "common practice, no source"
as_of = 2026-11-25
"""

TOML = """\
rule_set = "rules.toml"
[applicant]
surname = "Ōe Ñandú"
given_names = "Zoë"
[passport]
pages = "written"
[count]
form_leaves = 4
"""


def page(seed: int, size_mm=(210, 297), dpi: int = 100, lines: int = 30) -> Image.Image:
    """A white page with dark text-like rules, at ``dpi``."""
    width, height = (round(side / 25.4 * dpi) for side in size_mm)
    picture = Image.new("RGB", (width, height), (250, 249, 245))
    pen = ImageDraw.Draw(picture)
    random = np.random.default_rng(seed)
    margin = round(0.09 * width)
    for row in range(lines):
        y = round(0.08 * height + row * 0.84 * height / lines)
        x = margin
        while x < width - margin:
            word = int(random.integers(8, 40))
            pen.rectangle([x, y, min(x + word, width - margin), y + 4], fill=(40, 40, 45))
            x += word + 8
    return picture


def opening_on_glass(seed: int, dpi: int = 150) -> Image.Image:
    """A passport opening, 176 x 125 mm, lying on a dark ground."""
    spread = page(seed, (176, 125), dpi, lines=12)
    ground = Image.new("RGB", (round(240 / 25.4 * dpi), round(180 / 25.4 * dpi)), (60, 62, 66))
    ground.paste(spread, (round(30 / 25.4 * dpi), round(25 / 25.4 * dpi)))
    return ground


def make(root: Path, *, openings: int = 2, papers: int = 2) -> Path:
    """Write the packet into ``root`` and return it."""
    for folder in ("passport", "means", "form"):
        (root / folder).mkdir(parents=True)
    (root / "rules.toml").write_text(RULE_SET, "utf-8")
    (root / "packet.toml").write_text(TOML, "utf-8")
    for number in range(openings):
        opening_on_glass(number).save(
            root / "passport" / f"open_{number + 1}.jpg", quality=85, dpi=(150, 150)
        )
    for number in range(papers):
        page(100 + number, dpi=150).save(root / "means" / f"p{number + 1}.png", dpi=(150, 150))
    return root


def add_form(root: Path, pages: int = 8) -> None:
    """The form, scanned: one multi-page PDF."""
    sheets = [page(200 + number, dpi=110) for number in range(pages)]
    sheets[0].save(
        root / "form" / "form.pdf", save_all=True, append_images=sheets[1:], resolution=110
    )
