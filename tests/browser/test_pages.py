"""Every page in headless Chromium: demo, 20 records, city buses and sales alone; light and dark, some narrow too."""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager

import pytest

from tests.conftest import loaded

CHROMIUM = os.environ.get("WEARLEDGER_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
WIDTHS = {"demo": (1440, 420), "twenty": (1440, 420)}
"""Widths in which a fleet's pages are opened; the other fleets' are opened wide."""

PAGES = ("", "lasting", "where", "held", "look-first", "shelf", "one-car")
SHOTS = os.environ.get("WEARLEDGER_SHOTS")
"""Folder to keep screenshots in, to be looked at."""

pytestmark = pytest.mark.browser

if not CHROMIUM and not os.environ.get("CI"):
    pytest.skip("there is no Chromium on this machine", allow_module_level=True)


@contextmanager
def served(data_dir):
    """Run ``wearledger dashboard`` on a free port and yield its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "analytics", "dashboard", "--data", str(data_dir), "--port", str(port)]
    address = f"http://127.0.0.1:{port}"
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) as server:
        try:
            for _ in range(120):
                try:
                    urllib.request.urlopen(f"{address}/_stcore/health", timeout=1).close()
                    break
                except OSError:
                    assert server.poll() is None, server.stderr.read()
                    time.sleep(0.5)
            else:
                pytest.fail("the dashboard did not come up within a minute")
            yield address
        finally:
            server.terminate()


@pytest.fixture(scope="module")
def browser():
    from playwright.sync_api import sync_playwright

    assert CHROMIUM, "continuous integration must bring Chromium"
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield running
        running.close()


@pytest.fixture(scope="module")
def sales_dir(tmp_path_factory):
    """A data folder with part invoices alone."""
    feed = tmp_path_factory.mktemp("sales") / "feed"
    feed.mkdir()
    (feed / "sales.csv").write_text("part_no,sold_on,quantity\nSL-7102,2024-03-01,2\nSL-1102,2026-02-28,1\n")
    return loaded(tmp_path_factory.mktemp("sales_data"), feed)


@pytest.fixture(scope="module", params=["demo_dir", "bus_dir", "twenty_dir", "sales_dir"])
def fleet(request):
    with served(request.getfixturevalue(request.param)) as address:
        yield request.param.removesuffix("_dir"), address


def drawn(page):
    """Wait until no grey box stands in the place of a chart or table."""
    page.wait_for_timeout(700)
    page.wait_for_function("() => !document.querySelector('[data-testid=stSkeleton]')", timeout=60_000)
    page.wait_for_timeout(500)


def opened(browser, address, scheme, width):
    """Open a page and wait until Streamlit has run it; return the page and the requests it made."""
    context = browser.new_context(color_scheme=scheme, viewport={"width": width, "height": 900})
    page = context.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    page.wait_for_selector("h1", timeout=60_000)
    page.wait_for_function("() => !document.querySelector('[data-testid=stStatusWidget]')", timeout=60_000)
    return context, page, asked


@pytest.mark.parametrize("path", PAGES)
def test_a_page_opens_without_error_and_asks_no_other_host(fleet, browser, path):
    name, address = fleet
    for width in WIDTHS.get(name, (1440,)):
        context, page, asked = opened(browser, f"{address}/{path}", "light", width)
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            drawn(page)
            if SHOTS:
                shoot(page, width, f"{name}-{path or 'in-short'}-{scheme}-{width}")
            assert_sound(page, path)
        outside = [
            url for url in asked if not url.startswith((address, "data:", "blob:", address.replace("http", "ws")))
        ]
        assert outside == []
        context.close()


def assert_sound(page, path):
    text = page.inner_text("body")
    assert page.locator("[data-testid=stException]").count() == 0, text
    for never in ("Traceback", "NaN", "nan ", "Infinity", "None", "undefined", "null"):
        assert never not in text, f"{never!r} on {path}"
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 1, "the page scrolls sideways"


def shoot(page, width, name):
    high = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
    page.set_viewport_size({"width": width, "height": max(900, high)})
    drawn(page)
    page.screenshot(path=f"{SHOTS}/{name}.png", full_page=True)


def test_colours_follow_the_scheme_without_asking_the_server(browser, demo_dir):
    with served(demo_dir) as address:
        context, page, _ = opened(browser, f"{address}/lasting", "light", 1440)
        page.wait_for_selector("[data-testid=stVegaLiteChart] svg", timeout=30_000)
        light = page.evaluate("getComputedStyle(document.body).backgroundColor")
        page.emulate_media(color_scheme="dark")
        page.wait_for_timeout(1500)
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") != light
        assert page.locator("[data-testid=stException]").count() == 0
        context.close()
