"""Make the drawings' fonts again: DejaVu Sans and its bold, with the letters and signs we print, renamed.

    python tools/make_fonts.py

They come from the wheel of matplotlib, which the tests need, and are cut by fontTools, which ezdxf needs.
Their licence allows changed fonts under names without "Bitstream" and "Vera".
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import matplotlib
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

FONTS = Path(__file__).parents[1] / "src" / "strapwright" / "drawing" / "fonts"
FAMILY = "Strapwright Sans"
FACES = {"DejaVuSans.ttf": "Regular", "DejaVuSans-Bold.ttf": "Bold"}
BLOCKS = (
    (0x0020, 0x007E),  # Latin
    (0x00A0, 0x024F),  # its letters with marks, up to Extended-B
    (0x0259, 0x0259),  # schwa, a letter of Azerbaijani
    (0x02B0, 0x036F),  # marks by themselves, and to be set over letters
    (0x0370, 0x052F),  # Greek, Cyrillic
    (0x1E00, 0x1EFF),  # Latin letters with two marks
    (0x2000, 0x20CF),  # punctuation, figures raised and lowered, currencies
    (0x2100, 0x218F),  # letterlike signs, fractions
    (0x2190, 0x2199),  # arrows
    *((code, code) for code in map(ord, "∂∆∏∑−∓∕∗∘∙√∝∞∟∠∥∩∫≈≠≡≤≥≪≫⊥⋅⌀")),
    *((code, code) for code in map(ord, "■□▪▫▲△▶▷▼▽◀◁◆◇◊○◎●")),
    (0x2610, 0x2612),  # boxes to tick
    (0x2713, 0x2718),  # ticks and crosses
    (0xFB00, 0xFB04),  # ligatures
    (0xFFFD, 0xFFFD),  # for what has no letter
)


def main() -> None:
    """Write the fonts, how wide their letters are, and their licence."""
    source = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    FONTS.mkdir(exist_ok=True)
    advances = {}
    for file, style in FACES.items():
        font = TTFont(source / file, recalcTimestamp=False)
        options = Options()
        options.hinting = False
        options.layout_features = []  # no kerning: every program sets a text as long as it is measured
        options.drop_tables += ["GDEF", "GPOS", "GSUB", "kern", "FFTM", "MATH", "gasp"]
        options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14]
        options.notdef_outline = True
        subsetter = Subsetter(options)
        subsetter.populate(unicodes=[code for first, last in BLOCKS for code in range(first, last + 1)])
        subsetter.subset(font)
        postscript = f"{FAMILY.replace(' ', '')}-{style}"
        named = {1: FAMILY, 2: style, 3: postscript, 4: f"{FAMILY} {style}", 6: postscript}
        for record in font["name"].names:
            if record.nameID in named:
                record.string = named[record.nameID]
        em, widths = font["head"].unitsPerEm, font["hmtx"].metrics
        assert em == 2048
        advances[postscript] = {chr(code): widths[glyph][0] for code, glyph in font.getBestCmap().items()}
        path = FONTS / f"{postscript}.ttf"
        font.save(path)

    text = json.dumps(advances, ensure_ascii=False, separators=(",", ":"))
    (FONTS / "advances.json").write_text(text + "\n", "utf-8")
    shutil.copyfile(source / "LICENSE_DEJAVU", FONTS / "LICENSE_DEJAVU")


if __name__ == "__main__":
    main()
