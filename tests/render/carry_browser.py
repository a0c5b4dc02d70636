"""A real Chromium for the carry pages, started and stopped by the tests, never on the network."""

import base64
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")

needs_chromium = pytest.mark.skipif(
    not (CHROMIUM and DRIVER), reason="no chromium with its chromedriver here"
)
needs_poppler = pytest.mark.skipif(
    not shutil.which("pdftotext"), reason="no pdftotext to look into a PDF here"
)

FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextmanager
def browser(
    profile: Path, *, width: int = 390, height: int = 844, downloads: Path | None = None
) -> Iterator[Any]:
    """A Chromium with its own profile folder; ticks must be found again in the same folder."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = str(CHROMIUM)
    for flag in (*FLAGS, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    size = {"width": width, "height": height, "pixelRatio": 1.0}
    options.add_experimental_option("mobileEmulation", {"deviceMetrics": size})
    if downloads is not None:
        options.add_experimental_option("prefs", {"download.default_directory": str(downloads)})
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    driver.set_script_timeout(20)
    try:
        yield driver
    finally:
        driver.quit()


def print_pdf(driver: Any, path: Path, **paper: float) -> None:
    """Print the page at the paper size it asks for, else on ``paper`` (inches)."""
    wanted = {"preferCSSPageSize": True, "printBackground": False, **paper}
    answer = driver.execute_cdp_cmd("Page.printToPDF", wanted)
    path.write_bytes(base64.b64decode(answer["data"]))


def pdf_pages(path: Path) -> list[str]:
    """Text of each page of a PDF."""
    command = ["pdftotext", "-layout", str(path), "-"]
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return text.split("\f")[:-1]


def pdf_size_mm(path: Path) -> tuple[float, float]:
    """Width and height of the first page, mm."""
    text = subprocess.run(["pdfinfo", str(path)], capture_output=True, text=True, check=True).stdout
    words = next(line for line in text.splitlines() if line.startswith("Page size")).split()
    return float(words[2]) * 25.4 / 72.0, float(words[4]) * 25.4 / 72.0


CONTRASTS = """
const parse = c => (c.match(/[0-9.]+/g) || [0, 0, 0, 0]).map(Number);
const lin = v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
const lum = ([r, g, b]) => 0.2126 * lin(r) + 0.7152 * lin(g) + 0.0722 * lin(b);
const ground = e => {
  for (; e; e = e.parentElement) {
    const c = parse(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] > 0.99) return c;
    if (e.matches('g.tree')) return parse(getComputedStyle(e.querySelector('rect')).fill);
  }
  return parse(getComputedStyle(document.documentElement).backgroundColor);
};
let worst = [99, ''], small = [99, ''], texts = 0;
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const e = walk.currentNode.parentElement, said = walk.currentNode.textContent.trim();
  if (!said || !e.getClientRects().length || e.matches('script, option, title, desc')
      || e.closest('.hidden, .skip')) continue;
  const style = getComputedStyle(e), svg = e.closest('svg');
  const ink = lum(parse(svg ? style.fill : style.color)), paper = lum(ground(e));
  const ratio = (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05);
  const size = parseFloat(style.fontSize);
  texts += 1;
  if (ratio < worst[0]) worst = [ratio, said.slice(0, 60)];
  if (size < small[0]) small = [size, said.slice(0, 60)];
}
return [worst, small, texts, lum(ground(document.body)) < 0.2];
"""
"""Least contrast (WCAG 2.2 definition) and least font size, px, of all text that is shown."""


def contrasts(driver: Any) -> tuple[tuple[float, str], tuple[float, str], int, bool]:
    """Least contrast and size with the text they are of, how many texts, whether it is dark."""
    worst, small, texts, dark = driver.execute_script(CONTRASTS)
    return tuple(worst), tuple(small), texts, dark
