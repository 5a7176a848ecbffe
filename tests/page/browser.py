"""Chromium of this machine, driven over WebDriver: nothing is fetched, nothing is sent."""

from __future__ import annotations

import contextlib
import os
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

CHROMIUM, DRIVER = "chromium", "chromedriver"
WAIT_S = 60.0
# Each switches off something that would ask another machine, or differ between machines.
_SWITCHES = (
    *("--headless=new", "--no-first-run", "--disable-extensions", "--disable-sync", "--mute-audio"),
    *("--disable-background-networking", "--disable-component-update", "--disable-default-apps"),
    *("--disable-domain-reliability", "--no-default-browser-check", "--disable-gpu", "--hide-scrollbars"),
    *("--disable-dev-shm-usage", "--force-color-profile=srgb", "--autoplay-policy=no-user-gesture-required"),
    "--disable-features=Translate,OptimizationHints,MediaRouter,NetworkTimeServiceQuerying",
)


def missing() -> str:
    """Return why no browser can be driven here; empty if one can."""
    try:
        import selenium  # noqa: F401
    except ImportError:
        return "selenium isn't installed"
    gone = [name for name in (CHROMIUM, DRIVER) if shutil.which(name) is None]
    return f"{' and '.join(gone)} not here (Debian: apt-get install chromium chromium-driver)" if gone else ""


@contextlib.contextmanager
def chromium(folder: Path, microphone: Path | None = None, *more: str) -> Iterator[Browser]:
    """Run Chromium with a profile in `folder`; `microphone`: a WAV file that its microphone hears, once."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which(CHROMIUM))
    for switch in (*_SWITCHES, f"--user-data-dir={folder / 'profile'}", *more):
        options.add_argument(switch)
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.add_argument("--no-sandbox")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    if microphone is not None:
        options.add_argument("--use-fake-ui-for-media-stream")
        options.add_argument("--use-fake-device-for-media-stream")
        options.add_argument(f"--use-file-for-fake-audio-capture={microphone}%noloop")
    driver = webdriver.Chrome(options=options, service=Service(str(shutil.which(DRIVER))))
    try:
        yield Browser(driver)
    finally:
        driver.quit()


class Browser:
    """One window, and what a person does with it."""

    def __init__(self, driver: Any) -> None:
        self.driver = driver

    def enter(self, server: Any) -> None:
        """Come in with the pass that the bench shows, and wait for the bench."""
        self.driver.get(f"http://127.0.0.1:{server.port}/enter#{server.word()}")
        self.until(lambda: self.js("return location.pathname") == "/bench")
        self.until(lambda: self.text("clock") != "")

    def js(self, script: str, *arguments: Any) -> Any:
        """Run a script in the page and return its value."""
        return self.driver.execute_script(script, *arguments)

    def text(self, name: str) -> str:
        """Return the text of the element with an id, whether it is shown or not."""
        return str(self.js("return document.getElementById(arguments[0])?.textContent ?? ''", name))

    def shown(self, name: str) -> bool:
        """Return whether the element with an id can be seen."""
        return bool(self.js("return document.getElementById(arguments[0]).checkVisibility()", name))

    def touch(self, selector: str) -> None:
        """Touch an element."""
        self.driver.find_element("css selector", selector).click()

    def keys(self, keys: str) -> None:
        """Touch keys of the page's pad; "E" is Enter."""
        for key in keys:
            self.touch(f'#keys [data-key="{"Enter" if key == "E" else key}"]')

    def until(self, condition: Callable[[], Any], wait_s: float = WAIT_S) -> Any:
        """Wait for a condition and return its value."""
        end = time.monotonic() + wait_s
        while not (value := condition()):
            if time.monotonic() > end:
                raise AssertionError(f"it didn't happen within {wait_s} s; the page's log: {self.log()}")
            time.sleep(0.02)
        return value

    def resize(self, width: int, height: int, scale: float = 1.0, *, mobile: bool = False) -> None:
        """Give the page so many dots; `scale`: zoom as by a person."""
        metrics = {"width": width, "height": height, "deviceScaleFactor": scale, "mobile": mobile}
        self.cdp("Emulation.setDeviceMetricsOverride", **metrics)

    def prefer(self, **features: str) -> None:
        """Set media features, such as prefers_color_scheme="dark"."""
        named = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
        self.cdp("Emulation.setEmulatedMedia", features=named)

    def cdp(self, command: str, **arguments: Any) -> Any:
        """Send a command of the DevTools protocol."""
        return self.driver.execute_cdp_cmd(command, arguments)

    def picture(self, path: Path) -> None:
        """Save what is shown as PNG."""
        import base64

        path.write_bytes(base64.b64decode(self.cdp("Page.captureScreenshot", format="png")["data"]))

    def log(self) -> list[str]:
        """Return the page's messages, faults among them."""
        return [f"{each['level']}: {each['message']}" for each in self.driver.get_log("browser")]
