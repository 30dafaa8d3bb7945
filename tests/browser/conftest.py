"""A real Chromium for the browser tests: BROWSER_PATH, else a Chromium-like program on PATH."""

import os
import shutil
import sys
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "unit" / "report"))
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")


def browser_path() -> str | None:
    """The browser to use, or None."""
    named = os.environ.get("BROWSER_PATH")
    return named or next((path for path in map(shutil.which, NAMES) if path), None)


@pytest.fixture(scope="session")
def browser():
    """One headless Chromium for all tests of a process."""
    path = browser_path()
    if path is None:
        pytest.fail("no Chromium found: install one, or name it in BROWSER_PATH")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture
def browser_page(browser):
    """Opens a page of a given width and colour scheme; closes them all afterwards."""
    contexts = []

    def open_page(width: int = 1280, scheme: str = "light"):
        context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
        contexts.append(context)
        return context.new_page()

    yield open_page
    for context in contexts:
        context.close()
