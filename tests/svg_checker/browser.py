"""Measures SVG text in a headless Chromium: real fonts, real boxes, millimetres on paper."""

from __future__ import annotations

import atexit
import functools
import os
import shutil
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.service import Service

from svg_checker.sheet import Sheet, sheet_from_measurement

PIXELS_PER_MM = 10.0
"""The page is laid out enlarged, so that no box is rounded to screen pixels."""

_SCRIPT = Path(__file__).with_name("measure.js").read_text(encoding="utf-8")
_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
_OPTIONS = (
    "--headless=new",
    "--no-sandbox",  # test machines often run as root
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


class BrowserMissing(Exception):
    """No Chromium could be started; the text says what was tried."""


class MeasureError(Exception):
    """The SVG cannot be measured: not well-formed, or without a size in millimetres."""


class Browser:
    """One headless Chromium for as many drawings as one likes."""

    def __init__(self) -> None:
        self._profile = tempfile.mkdtemp(prefix="svg-checker-")
        options = webdriver.ChromeOptions()
        program = os.environ.get("CHROMIUM") or next(
            filter(None, map(shutil.which, _BROWSERS)), None
        )
        if program:
            options.binary_location = program
        for option in (*_OPTIONS, f"--user-data-dir={self._profile}"):
            options.add_argument(option)
        driver = os.environ.get("CHROMEDRIVER") or shutil.which("chromedriver")
        try:  # without a driver at hand, selenium looks for one by itself
            self._driver = webdriver.Chrome(service=Service(driver), options=options)
        except WebDriverException as error:
            shutil.rmtree(self._profile, ignore_errors=True)
            raise BrowserMissing(f"no Chromium with its driver: {error.msg}") from None
        self._driver.get("data:text/html,<!doctype html><title>sheet</title><body></body>")

    def measure(self, name: str, svg: str) -> Sheet:
        """Return what is on the page of `svg`; raises MeasureError when it is no drawing."""
        found: dict[str, Any] = self._driver.execute_script(_SCRIPT, svg, PIXELS_PER_MM)
        if "error" in found:
            raise MeasureError(f"{name}: {found['error']}")
        return sheet_from_measurement(name, found)

    def measure_all(self, drawings: Iterable[tuple[str, str]]) -> list[Sheet]:
        return [self.measure(name, svg) for name, svg in drawings]

    def close(self) -> None:
        self._driver.quit()
        shutil.rmtree(self._profile, ignore_errors=True)


@functools.cache
def shared_browser() -> Browser:
    """Return the one browser of this process, started at the first call."""
    browser = Browser()
    atexit.register(browser.close)
    return browser
