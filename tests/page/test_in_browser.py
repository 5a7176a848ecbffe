"""The bench's page in a real browser: figures, keys, grid, faults, layout, access for all."""

import hashlib
import os
import time
from pathlib import Path

import pytest

from handsfree.planfile import parse_plan
from tests.page.browser import chromium, missing
from tests.page.conftest import served_bench
from tests.support.program import ROOT

pytestmark = [pytest.mark.skipif(bool(missing()), reason=missing()), pytest.mark.xdist_group("chromium")]

# Fetched by tests/run, of one version alone.
AXE = Path(
    os.environ.get("HANDSFREE_AXE", ROOT / ".venv" / "axe" / "node_modules" / "axe-core" / "axe.min.js")
)
SIZES = [(360, 640), (640, 360), (768, 1024), (1024, 768), (1280, 800), (1920, 1080), (1080, 1920)]
MARKUP = '<img src=x onerror="window.hacked=1"><script>window.hacked=1</script>&amp;\''
PLAN = parse_plan(
    f"""
format = 1
name = '''{MARKUP}'''
[engine]
name = "three"
bore = "4 in"
[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"
[check.axes]
cylinder = 3
ring = ["top", "second"]
[[check.target]]
aim = "18 thou"
plus = "1.5 thou"
""",
    "markup.toml",
)


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    with (
        served_bench(PLAN) as (server, bench),
        chromium(tmp_path_factory.mktemp("chromium")) as browser,
    ):
        browser.enter(server)
        yield browser, bench, server


@pytest.fixture
def at_work(running):
    """A new session in the same browser, its keys open: no test leans on the one before it."""
    browser, bench, server = running
    bench.begin(PLAN)
    browser.resize(1024, 768)
    browser.prefer(prefers_color_scheme="dark")
    browser.driver.get(f"http://127.0.0.1:{server.port}/bench")
    browser.until(lambda: browser.text("place") == "1 top" and not browser.shown("question"))
    if not browser.shown("pad"):
        browser.touch("#show-pad")
    browser.log()  # what came before is no longer asked about
    return browser, bench, server


def test_an_entry_by_thumb_is_shown_while_it_grows_and_judged(at_work):
    browser, bench, _ = at_work
    browser.keys("16.5")
    browser.until(lambda: browser.text("begun") == "16.5")
    browser.keys("E")
    browser.until(lambda: browser.text("reading") == "16.5")
    assert (browser.text("amount"), browser.text("word"), browser.text("sign")) == ("1.5", "FILE", "<")
    assert bench.logged[-1] == "16.5 thou"
    # a polite live region says what the voice says
    browser.until(lambda: "ixteen and a half" in browser.text("said"))
    assert browser.text("said") == browser.text("answer")  # how much is said depends on the readings before
    region = browser.driver.find_element("id", "said")
    assert region.get_attribute("aria-live") == "polite"


def test_touching_the_grid_takes_that_position_in_hand(at_work):
    browser, bench, _ = at_work
    browser.touch('#grid button[data-row="1"][data-column="2"]')
    browser.until(lambda: browser.text("place") == "3 second")
    assert bench.bench.session.position.get("cylinder") == "3"
    assert browser.js("return document.querySelector('#grid [aria-current]').getAttribute('aria-label')") == (
        "3 second:  open, in hand"
    )


def test_taking_back_asks_first(at_work):
    browser, bench, _ = at_work
    browser.touch('#grid button[data-row="1"][data-column="2"]')
    browser.until(lambda: browser.text("place") == "3 second")
    browser.keys("19E")
    browser.until(lambda: bench.logged[-1:] == ["19 thou"])
    browser.until(lambda: browser.text("reading") == "19")
    before = len(bench.keyed)
    browser.touch("#undo")
    assert browser.text("confirm-text") == "Take back 3 second, 19?"
    browser.touch("#confirm-no")
    assert len(bench.keyed) == before
    browser.touch("#undo")
    browser.touch("#confirm-yes")
    browser.until(lambda: "19 thou" not in bench.logged)


def test_a_keyboard_alone_will_do(at_work):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    browser, bench, _ = at_work
    browser.js("document.activeElement.blur()")
    ActionChains(browser.driver).send_keys("2*1*17", Keys.BACKSPACE, "8", Keys.ENTER).perform()
    browser.until(lambda: bench.logged[-1:] == ["18 thou"])
    # to a button by Tab, and pressed by Enter: the entry isn't sent by it
    browser.js("document.querySelector('#grid button').focus()")
    ActionChains(browser.driver).send_keys(Keys.TAB).perform()
    name = browser.js("return document.activeElement.getAttribute('aria-label')")
    ActionChains(browser.driver).send_keys(Keys.RETURN).perform()
    browser.until(lambda: browser.text("place") == name.split(":")[0])


def test_nothing_that_is_said_or_named_becomes_markup(at_work):
    browser, bench, _ = at_work
    bench.change(heard=MARKUP, answer=MARKUP, trouble=(MARKUP,), device=MARKUP)
    browser.until(lambda: browser.text("heard") == MARKUP)
    assert browser.text("title").startswith(MARKUP)
    assert browser.text("troubles") == f"! {MARKUP}"
    bench.change(notice=(MARKUP,))
    browser.until(lambda: browser.text("notices") == MARKUP)
    bench.change(heard="", trouble=(), notice=(), device="cup")
    browser.until(lambda: not browser.shown("notice"))
    assert browser.js("return [document.images.length, window.hacked ?? null]") == [0, None]


def test_no_script_but_our_own_files_runs(at_work):
    browser, _, _ = at_work
    browser.js(
        "const s = document.createElement('script'); s.textContent = 'window.hacked = 2';"
        "document.body.append(s);"
        "const b = document.createElement('button'); b.setAttribute('onclick', 'window.hacked = 3');"
        "document.body.append(b); b.click(); s.remove(); b.remove();"
    )
    assert browser.js("return window.hacked ?? null") is None
    assert any("Content Security Policy" in line for line in browser.log())


def test_an_open_question_fills_the_screen_and_is_answered_by_touch(at_work):
    browser, bench, _ = at_work
    browser.keys("0*E")  # finish, with positions left open
    browser.until(lambda: browser.shown("question"))
    assert browser.text("asked") == "FINISH?"
    browser.touch('#question [data-key="-"]')
    browser.until(lambda: not browser.shown("question"))
    assert not bench.bench.session.finished


def test_a_lost_connection_is_shown_heals_and_loses_and_doubles_no_key(at_work):
    """Connections end at random instants while keys are pressed; the browser presses on."""
    browser, bench, server = at_work
    before = len(bench.every)
    browser.js(
        """
        let n = 0;
        const press = (key) => window.dispatchEvent(new KeyboardEvent("keydown", { key }));
        window.pressing = setInterval(() => {
          if (n === 40) return clearInterval(window.pressing);
          for (const key of `${1 + (n % 3)}*1*${10 + (n % 20)}`) press(key);
          press("Enter");
          n += 1;
        }, 40);
        """
    )
    cuts = 0
    end = time.monotonic() + 90
    while len(bench.every) < before + 40 and time.monotonic() < end:
        server.site.soon(lambda: [w.socket._writer.transport.abort() for w in server.page._watchers])
        cuts += 1
        time.sleep(0.05 + 0.003 * (cuts % 40))
    browser.until(lambda: len(bench.every) >= before + 40)
    assert bench.every[before:] == [f"{10 + n % 20} thou" for n in range(40)]
    assert cuts > 5
    browser.until(lambda: not browser.shown("cut"))


def test_the_end_of_a_session_is_shown(at_work):
    browser, _, server = at_work
    desk, server.page._desk = server.page._desk, None
    server.page.nudge()
    browser.until(lambda: "No session is running" in browser.text("cut"))
    assert browser.shown("cut")
    server.page._desk = desk
    browser.until(lambda: not browser.shown("cut"))


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("pad", [False, True])
@pytest.mark.parametrize("entry", ["16.75", "18"])  # an amount with its word, and a word alone
def test_all_is_on_one_screen_and_the_amount_is_large(at_work, width, height, pad, entry):
    browser, bench, _ = at_work
    bench.key(entry)
    browser.until(lambda: browser.text("reading") == entry)
    browser.resize(width, height)
    if browser.shown("pad") is not pad:
        browser.js("document.getElementById('show-pad').click()")
    measures = browser.js(
        """
        const box = (id) => document.getElementById(id).getBoundingClientRect();
        const inside = (b) => b.left >= -1 && b.right <= innerWidth + 1 && b.top >= -1;
        const range = document.createRange();
        range.selectNodeContents(document.getElementById("amount"));
        const amount = range.getBoundingClientRect();
        const key = document.querySelector('#keys [data-key="5"]').getBoundingClientRect();
        return {
          wide: document.documentElement.scrollWidth - innerWidth,
          inside: ["amount", "word", "ears", "clock", "show-pad", "undo"].filter((id) => !inside(box(id))),
          amount: amount.height, fits: amount.width <= box("figures").width + 1,
          key: Math.min(key.width, key.height),
        };
        """
    )
    assert measures["wide"] <= 0
    assert measures["inside"] == []
    assert measures["fits"]
    assert measures["amount"] > 0.1 * min(width, height), measures
    if pad and min(width, height) >= 600:
        # 15 mm at 163 dots an inch, the finest of common tablets (from memory): 96 dots
        assert measures["key"] >= 96


def test_two_hundred_per_cent_zoom_cuts_nothing_off(at_work):
    browser, _, _ = at_work
    for width, height in ((960, 540), (512, 384), (320, 568)):  # half of 1920 x 1080 and so on
        browser.resize(width, height, 2)
        assert browser.js("return document.documentElement.scrollWidth - innerWidth") <= 0
        assert browser.js("return document.getElementById('undo').getBoundingClientRect().width") > 40
    browser.resize(1024, 768)


@pytest.mark.skipif(not AXE.exists(), reason="axe-core isn't here; tests/run fetches it by npm")
@pytest.mark.parametrize("scheme", ["dark", "light"])
@pytest.mark.parametrize("state", ["figures", "question", "notice", "dialog", "enter", "trust"])
def test_rules_of_axe_core_find_nothing(at_work, scheme, state):
    """Source of the rules: axe-core, WCAG 2.2 at levels A and AA, and its best practices."""
    browser, bench, server = at_work
    browser.prefer(prefers_color_scheme=scheme)
    if state in {"enter", "trust"}:
        browser.driver.get(f"http://127.0.0.1:{server.port}/{state}")
    bench.change(
        notice=("Sharp edges. Deburr.",) if state == "notice" else (),
        trouble=("Microphone lost.",),
        begun="1",
    )
    if state == "question":
        browser.js("for (const k of ['0','*','Enter']) dispatchEvent(new KeyboardEvent('keydown', {key: k}))")
        browser.until(lambda: browser.shown("question"))
    elif state == "dialog":
        browser.js("document.getElementById('undo').click()")
    time.sleep(0.2)
    browser.driver.execute_script(AXE.read_text("utf-8"))
    found = browser.driver.execute_async_script(
        "const done = arguments[0]; axe.run(document).then((r) => done(r.violations.map((v) =>"
        " `${v.id}: ${v.help} ${v.nodes.map((n) => n.target + ' ' + n.failureSummary).join('; ')}`)))"
    )
    assert found == []


@pytest.mark.skipif(not AXE.exists(), reason="axe-core isn't here; tests/run fetches it by npm")
def test_axe_core_is_the_one_that_was_looked_at():
    assert (
        hashlib.sha256(AXE.read_bytes()).hexdigest()
        == "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c"
    )
