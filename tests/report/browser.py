"""A real browser for the page tests, quiet on the network."""

import shutil
import subprocess
from contextlib import contextmanager

import pytest
from selenium.webdriver import Chrome, ChromeOptions
from selenium.webdriver.chrome.service import Service

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
DRIVER = shutil.which("chromedriver")
QUIET = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip
needs_browser = pytest.mark.skipif(
    not (BROWSER and DRIVER), reason="no browser: apt-get install chromium chromium-driver (.ci/run does)"
)
INSTALLED = subprocess.run(["fc-list", ":", "family"], capture_output=True, text=True, check=False).stdout if (
    shutil.which("fc-list")) else ""  # fmt: skip
# Faces whose widths differ most among those that readers have; .ci/run installs all three.
FONTS = [family for family in ("DejaVu Sans", "Liberation Sans", "Noto Sans") if family in INSTALLED]
# Words of a drawing whose boxes overlap, or that leave the drawing; a tenth of a unit is forgiven.
TEXTS = """
return [...document.querySelectorAll('figure svg[role=img]')].flatMap(svg => {
  const view = svg.viewBox.baseVal, texts = [...svg.querySelectorAll('text')], found = [];
  const boxes = texts.map(t => { const b = t.getBBox(); return {t: t.textContent, l: b.x, r: b.x + b.width,
    top: b.y + b.height * .12, foot: b.y + b.height * .88}; });
  boxes.forEach((a, i) => {
    if (a.l < view.x - .1 || a.r > view.x + view.width + .1 ||
        a.top < view.y - .1 || a.foot > view.y + view.height + .1)
      found.push('leaves: ' + a.t);
    boxes.slice(i + 1).forEach(b => {
      if (a.l < b.r - .1 && b.l < a.r - .1 && a.top < b.foot - .1 && b.top < a.foot - .1)
        found.push('overlap: ' + a.t + ' / ' + b.t); });
  });
  return found; });
"""


@contextmanager
def browser(folder):
    """A fresh headless browser with a profile of its own."""
    options = ChromeOptions()
    options.binary_location = BROWSER
    for argument in [*QUIET, f"--user-data-dir={folder}"]:
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = Chrome(options=options, service=Service(DRIVER))
    try:
        yield driver
    finally:
        driver.quit()


def at_width(driver, path, width, *, dark=False):
    """Open a page in a window of exactly this inner width."""
    size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": scheme})
    driver.get(path.as_uri())
    return driver


def in_font(driver, family):
    """Set the page in a family, its sans and its serif face."""
    for name, face in (("--plain", family), ("--prose", family.replace("Sans", "Serif"))):
        driver.execute_script("document.documentElement.style.setProperty(...arguments)", name, f'"{face}"')
