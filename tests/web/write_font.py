"""The letters of headings and figures: `python -m tests.web.write_font FOLDER` makes `web/fonts/` anew.

The source is the npm package `@fontsource-variable/alegreya` 5.3.0 (`npm pack` it), unpacked
into FOLDER: Alegreya by The Alegreya Project Authors, SIL Open Font License 1.1, no reserved name. Kept are one
weight of the upright letters that the screens write, and the italic figures of an estimate. Figures are the lining,
tabular ones without asking, so that columns keep still and no feature has to be carried along.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any, Final

from fontTools import subset
from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont

FONTS: Final = Path(__file__).resolve().parents[2] / "web" / "fonts"
WEIGHT: Final = 600
"""Between book and bold: thin strokes are lost in the sun."""
LETTERS: Final = "".join(map(chr, range(32, 127))) + "–—−’‘“”…·×½°±"
FIGURES: Final = "0123456789.,+-− "
PARTS: Final = {"letters": ("normal", LETTERS), "figures-italic": ("italic", FIGURES)}
NAMES_KEPT: Final = [0, 1, 2, 5, 13, 14]
"""Copyright, family, style, version, licence and its address."""


def lining(font: TTFont) -> None:
    """Point the ten figures at their lining, tabular shapes."""
    table = font["GSUB"].table
    swaps: dict[str, dict[str, str]] = {"lnum": {}, "tnum": {}}
    for record in table.FeatureList.FeatureRecord:
        if record.FeatureTag not in swaps:
            continue
        for index in record.Feature.LookupListIndex:
            for part in table.LookupList.Lookup[index].SubTable:
                one = getattr(part, "ExtSubTable", part)
                swaps[record.FeatureTag].update(getattr(one, "mapping", {}))
    for cmap in font["cmap"].tables:
        for figure in map(ord, "0123456789"):
            name = cmap.cmap.get(figure)
            if name is not None:
                name = swaps["lnum"].get(name, name)
                cmap.cmap[figure] = swaps["tnum"].get(name, name)


def write(source: Path, letters: str, to: Path) -> int:
    """One file of the letters; its bytes."""
    font: Any = TTFont(source)
    font = instantiateVariableFont(font, {"wght": WEIGHT})
    lining(font)
    options = subset.Options()
    options.layout_features = ["kern"]
    options.hinting = False
    options.name_IDs = NAMES_KEPT
    cutter = subset.Subsetter(options)
    cutter.populate(text=letters)
    cutter.subset(font)
    font["head"].modified = font["head"].created  # the same bytes at every run
    font.recalcTimestamp = False
    font.flavor = "woff2"
    font.save(to)
    return to.stat().st_size


def main(folder: Path) -> None:
    """Both files, and the licence beside them."""
    FONTS.mkdir(exist_ok=True)
    package = next(folder.rglob("alegreya-latin-wght-normal.woff2")).parent
    for name, (style, letters) in PARTS.items():
        size = write(package / f"alegreya-latin-wght-{style}.woff2", letters, FONTS / f"{name}.woff2")
        print(f"{name}.woff2: {size} bytes")
    licence = (package.parent / "LICENSE").read_text(encoding="utf-8")
    FONTS.joinpath("LICENCE.txt").write_text(
        "letters.woff2 and figures-italic.woff2 are subsets of Alegreya, made by tests/web/write_font.py\n"
        "from the npm package @fontsource-variable/alegreya 5.3.0.\n\n" + licence,
        encoding="utf-8",
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
