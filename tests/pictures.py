"""Take the pictures of the pages: display, page in a browser, build sheet and phrase card, as PNG.

    python -m tests.pictures [--to DIR]

Writes ``docs/pictures/`` unless told otherwise. Needs rsvg-convert (Debian: librsvg2-bin), pdftoppm
(poppler-utils), the fonts DejaVu (fonts-dejavu-core), and chromium with
chromium-driver. Look at them before they are committed.
"""

from __future__ import annotations

import argparse
import asyncio
import html
import json
import re
import shutil
import subprocess
from pathlib import Path
from tempfile import TemporaryDirectory

from handsfree.bench import Bench
from handsfree.export import to_pdf
from handsfree.journal import Journal
from handsfree.plan import cautions_for
from handsfree.planfile import load_plan
from handsfree.show import phrase_card
from handsfree.show.display import Board
from handsfree.understand import ENTER
from tests.dialogue.talk import Clock
from tests.page.browser import chromium
from tests.page.conftest import served_bench
from tests.show.scenes import view_after

ROOT = Path(__file__).parents[1]
PLAN = load_plan(ROOT / "demo" / "plan.toml")
PROGRAMS = ("rsvg-convert", "pdftoppm")
FONT = "DejaVu Sans Mono"
COLUMN_PX, ROW_PX = 12.2, 24.65  # of the display as SVG
FONT_PX = 20.26  # at which this font's letters are a column wide

# One engine's work: short, filed, good, corrected, withdrawn, over and tried elsewhere.
AT_THE_BENCH = ("18.5", "19", "4*1*20.75", "3*1*16")
WHOLE_SESSION = (
    *("14.5", "16", "17.25", "18", "15-", "16.5", "18.5", "15", "18", "20.75", "4*1*19", "13", "/15", "18.5"),
    *("18.5", "18.5", "19", "18.25", "20", "19.5", "20", "20.5", "21", "/", "21", "20", "20.25", "21"),
    *("20.5", "0*", "+"),
)


def display_svg() -> str:
    """Return the display of a bench at work, 80 by 24, as SVG."""
    words = "cylinder three top sixteen thou"
    board = Board(lambda: view_after(*AT_THE_BENCH, heard=words), lambda _: None, lambda: None)

    async def taken() -> str:
        async with board.run_test(size=(80, 24)) as pilot:
            await pilot.pause(0.3)
            return board.export_screenshot(title="handsfree bench")

    return in_font_at_hand(asyncio.run(taken()))


def in_font_at_hand(svg: str) -> str:
    """Return the picture as any program draws it, with a font of this machine.

    Browsers would fetch the font that the picture names, and stretch each line to its length. Here every
    run of letters has its own place instead, and the blocks of large letters are rectangles.
    """
    svg = re.sub(r"@font-face \{.*?\}", "", svg, flags=re.DOTALL)
    svg = svg.replace("Fira Code", FONT).replace("font-size: 20px", f"font-size: {FONT_PX}px")
    return re.sub(r'<text (class="\S+") x="(\S+)" y="(\S+)" textLength=.*?>(.*?)</text>', _placed, svg)


def _placed(line: re.Match[str]) -> str:
    style, left, base = line[1], float(line[2]), float(line[3])
    letters = html.unescape(line[4]).replace("\xa0", " ")
    drawn = []
    for run in re.finditer("█+|[^█ ]+", letters):
        x = left + COLUMN_PX * run.start()
        if run[0][0] == "█":
            place = f'x="{x:.1f}" y="{base - 18.5:.1f}"'
            drawn.append(f'<rect {style} {place} width="{COLUMN_PX * len(run[0]):.1f}" height="{ROW_PX}"/>')
        else:
            drawn.append(f'<text {style} x="{x:.1f}" y="{base}">{html.escape(run[0])}</text>')
    return "".join(drawn)


def sheet_pdf() -> bytes:
    """Return the build sheet of a whole session."""
    cautions = [caution.whole for caution in cautions_for(PLAN)]
    with Journal.in_memory(clock=Clock()) as journal:
        bench = Bench(PLAN, journal)
        bench.open(who="Robin")
        for entry in WHOLE_SESSION:
            bench.key(entry)
        return to_pdf(bench.session, list(journal.events()), cautions=cautions)


def card_png() -> bytes:
    """Return the phrase card, without its cautions, set as it is printed."""
    import typst

    text = phrase_card(PLAN).split("\nCAUTIONS")[0].rstrip()
    source = (
        "#set page(width: auto, height: auto, margin: 8mm)\n"
        f'#set text(font: "{FONT}", size: 9pt)\n'
        f"#raw({json.dumps(text)}, block: true)\n"
    )
    made = typst.compile(source.encode(), format="png", ppi=110, ignore_system_fonts=True)
    assert isinstance(made, bytes)
    return made


# Name, width and height, colours, and whether the keys are open: wide, tablet, phone; dark and light.
PAGES = (
    ("page", 1024, 640, "dark", False),
    ("page-wide", 1280, 720, "light", True),
    ("page-phone", 360, 640, "light", True),
)


def take_pages(folder: Path) -> None:
    """Write the pictures of the page in a browser."""
    with TemporaryDirectory() as name, served_bench() as (server, bench), chromium(Path(name)) as browser:
        browser.enter(server)
        for entry in AT_THE_BENCH:
            bench.press([*entry, ENTER], "pictures", lambda: None)
        browser.until(lambda: browser.text("reading") == "16")
        bench.change(heard="cylinder three top sixteen thou")
        browser.until(lambda: browser.text("heard") != "")
        for file, width, height, colours, keys in PAGES:
            browser.prefer(prefers_color_scheme=colours)
            browser.resize(width, height)
            if browser.shown("pad") is not keys:
                browser.js("document.getElementById('show-pad').click()")
            browser.until(lambda keys=keys: browser.shown("pad") is keys)
            browser.picture(folder / f"{file}.png")


def take(folder: Path) -> None:
    """Write all pictures to a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    take_pages(folder)
    with TemporaryDirectory() as name:
        svg, pdf = Path(name) / "display.svg", Path(name) / "sheet.pdf"
        svg.write_text(display_svg(), "utf-8")
        pdf.write_bytes(sheet_pdf())
        run("rsvg-convert", "--width", "1000", "--output", folder / "bench.png", svg)
        run("pdftoppm", "-png", "-r", "80", "-singlefile", pdf, folder / "sheet")
    (folder / "card.png").write_bytes(card_png())


def run(*command: str | Path) -> None:
    """Run a program that draws, or end with a sentence where it isn't there or fails."""
    if shutil.which(str(command[0])) is None:
        raise SystemExit(f"{command[0]} is needed and isn't here; the head of this file says where from")
    subprocess.run(command, check=True)


def main() -> None:
    """Take the pictures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--to", type=Path, default=ROOT / "docs" / "pictures", metavar="DIR")
    take(parser.parse_args().to)


if __name__ == "__main__":
    main()
