"""The pages in a real browser: how large and how soon ready, and how soon a dragged port is answered on the map.

Needs what the tests need (`make test` sets it up): Chromium and the browser driver.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from os import getloadavg
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

import numpy as np
from playwright.sync_api import Browser, Page, expect, sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "faces"))
from conftest import CHROMIUM_FLAGS

SERVE = [sys.executable, "-c", "from soakline.faces.cli.main import main; main()", "serve", "--port", "0"]
CASE_PAGES = ("", "/try", "/measure", "/change", "/day", "/layouts", "/file", "/history")
READY_S, LIMIT_KB, MEDIAN_MS, P95_MS = 0.6, 300, 40, 100
MOVES, STARTS = 60, 3

# From the pointer's move to the frame after the one in which the map took the engine's answer.
WATCH = """() => {
    let moved = null, told = null;
    addEventListener("pointermove", () => { moved ??= performance.now(); }, true);
    const asked = window.fetch;
    window.fetch = async (...all) => {
        const answer = await asked(...all);
        const read = answer.json.bind(answer);
        answer.json = async () => {
            const words = await read();
            if (moved !== null && !JSON.parse(all[1].body).with_ranges) {
                const from = moved;
                moved = null;
                requestAnimationFrame(() => setTimeout(() => told?.(performance.now() - from)));
            }
            return words;
        };
        return answer;
    };
    window.answered = () => {
        window.took = new Promise((done) => {
            told = done;
            setTimeout(done, 300, null);
        });
    };
}"""


def main() -> None:
    """Print sizes and times of pages, then times from drag to repaint, each beside its aim."""
    print(f"load {getloadavg()[0]:.1f}")
    with TemporaryDirectory() as folder, sync_playwright() as driver:
        surroundings = os.environ | {"SOAKLINE_DATA_FOLDER": folder}
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM_FLAGS)
        for words in ("first start, which brings the cases in", *["start"] * STARTS):
            page = browser.new_page(viewport={"width": 1366, "height": 900})
            begun = perf_counter()
            with subprocess.Popen(SERVE, env=surroundings, stdout=subprocess.PIPE, text=True) as process:  # noqa: S603 - our own program
                address = process.stdout.readline().split()[1] if process.stdout else ""
                printed = perf_counter() - begun
                page.goto(address)
                print(f"{words}: address after {printed:.2f} s, list of cases after {perf_counter() - begun:.2f} s")
                process.terminate()
            page.close()
        with subprocess.Popen(SERVE, env=surroundings, stdout=subprocess.PIPE, text=True) as process:  # noqa: S603 - as above
            try:
                look(browser, process.stdout.readline().split()[1] if process.stdout else "")
            finally:
                process.terminate()
        browser.close()
    print(f"load {getloadavg()[0]:.1f}")


def look(browser: Browser, address: str) -> None:
    """Open every page of every case, then drag a port in those that can be tried."""
    page = browser.new_page(base_url=address, viewport={"width": 1366, "height": 900})
    page.goto(address)
    cases = page.locator("main td a, main th a").evaluate_all(
        "all => all.map(a => [a.getAttribute('href'), a.textContent])"
    )
    cases = [(where, name.strip()) for where, name in cases if re.fullmatch(r"/cases/\d+", where)]
    print(f"\naims: {LIMIT_KB} kB, ready in {READY_S} s")
    print(f"{'page':12}{'kB on the wire, most':>22}{'ready, median s':>18}{'most':>7}")
    for part in CASE_PAGES:
        found = [opened(page, f"{where}{part}") for where, _ in cases]
        shown = [one for one in found if one is not None]
        if shown:
            sizes, times = zip(*shown, strict=True)
            print(f"{part or 'case':12}{max(sizes):22.0f}{median(times):18.2f}{max(times):7.2f}")
    print(f"\nfrom drag to repaint with the answer, ms (aims: median {MEDIAN_MS}, 95 % {P95_MS})")
    for where, name in cases:
        drag(page, where, name)


def opened(page: Page, where: str) -> tuple[float, float] | None:
    """Open a page again once it is warm; return its kB on the wire, all that it loads counted, and s until ready."""
    answer = page.goto(where, wait_until="load")
    if answer is None or not answer.ok:
        return None
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.setCacheDisabled", {"cacheDisabled": True})
    sizes: list[float] = []
    session.on("Network.loadingFinished", lambda told: sizes.append(told["encodedDataLength"]))
    page.goto(where, wait_until="networkidle")
    ready = page.evaluate("performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd")
    session.detach()
    return sum(sizes) / 1000.0, ready / 1000.0


def drag(page: Page, where: str, name: str) -> None:
    """Print how soon each of many moves of the first port was answered on the map, by either model."""
    page.goto(f"{where}/try")
    if not page.locator("#try").count():
        return
    for model in ("spread", "settled"):
        page.goto(f"{where}/try")
        page.locator(f'input[name="model"][value="{model}"]').check()
        expect(page.locator("#status")).not_to_contain_text("Working out", timeout=60_000)
        # A model that lacks a setting says so, and moves nothing.
        if page.locator("#status.shut").count():
            continue
        expect(page.locator("#reach td").first).not_to_be_empty(timeout=60_000)
        page.wait_for_timeout(1_500)
        box = page.locator(".over .handle").first.bounding_box()
        if box is None:
            continue
        page.evaluate(WATCH)
        x, y = box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0
        page.mouse.move(x, y)
        page.mouse.down()
        times = []
        for number in range(MOVES):
            page.evaluate("window.answered()")
            page.mouse.move(x + 0.5 * (number % 40 - 20), y + 0.3 * (number % 40 - 20))
            # A move that leaves the port at its limit changes nothing and asks nothing.
            if (took := page.evaluate("window.took")) is not None:
                times.append(took)
        page.mouse.up()
        middle, most = np.quantile(times, (0.5, 0.95))
        print(f"{name:46.46}{model:8} {len(times):4} moves, median {middle:5.0f}, 95 % {most:5.0f}")


if __name__ == "__main__":
    main()
