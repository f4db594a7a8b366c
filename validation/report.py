"""The rate report in headless Chromium: no console error, playing a mode changes the picture, nothing runs from a name.

In:   the built program (target/release/modalith), Chromium and its driver as Debian packages, selenium from PyPI.
Out:  a line each on stdout; exit code 1 where one fails. A picture of the page goes to target/report/.
"""

import json
import pathlib
import subprocess
import sys
import time

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By

ROOT = pathlib.Path(__file__).resolve().parent.parent
# The page names its device file: a path without a break, as long as a user's own may be.
OUT = ROOT / "target/report" / ("a" * 60)


def browser(*more):
    options = Options()
    options.binary_location = "/usr/bin/chromium"
    for flag in ("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
                 "--disable-component-update", "--disable-sync", "--window-size=1200,1600", *more):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    return webdriver.Chrome(options=options, service=Service("/usr/bin/chromedriver"))


def main():
    OUT.mkdir(parents=True, exist_ok=True)
    device = json.loads((ROOT / "meshes/comb-resonator/device.json").read_text())
    device["name"] = "comb <img src=x onerror=\"document.title='ran'\"> resonator"
    device["intent"] = {"drive": {"shuttle": "+x"}, "sense": [{"rate_axis": "z", "shuttle": "+y"}]}
    device["guards"] = [{"name": "<script>document.title='ran'</script>", "frequency_hz": 20000}]
    device["operation"] = {"drive_amplitude_um": 2, "quality_drive": 5000, "quality_sense": 1000,
                           "readout_noise_m_per_rthz": 1e-13}
    del device["$schema"]
    (OUT / "device.json").write_text(json.dumps(device))
    subprocess.run([ROOT / "target/release/modalith", "rate", OUT / "device.json", "--out", OUT, "--quiet"], check=True)
    page = (OUT / "report.html").as_uri()
    failures = []

    def check(what, ok):
        print(("ok      " if ok else "FAILED  ") + what)
        if not ok:
            failures.append(what)

    driver = browser()
    driver.get(page)
    check("no console error", not [e for e in driver.get_log("browser") if e["level"] in ("SEVERE", "ERROR")])
    check("names run no script", driver.title.endswith("rate report") and "ran" != driver.title)
    figure = driver.find_element(By.ID, "mode-1")
    button = figure.find_element(By.CSS_SELECTOR, "button.play")
    driver.execute_script("arguments[0].scrollIntoView()", figure)
    before = figure.screenshot_as_png
    button.click()
    time.sleep(0.25)
    shown = [g.is_displayed() for g in figure.find_elements(By.CSS_SELECTOR, "g.moment")]
    check("one moment at a time is shown", sum(shown) <= 1)
    check("playing a mode changes the picture", figure.screenshot_as_png != before)
    button.click()
    check("stopping shows the first moment again", figure.find_elements(By.CSS_SELECTOR, "g.moment")[0].is_displayed())
    driver.set_window_size(320, 800)
    wide = driver.execute_script("return document.documentElement.scrollWidth - document.documentElement.clientWidth")
    check(f"a narrow window does not scroll sideways ({wide} px over)", wide <= 0)
    driver.set_window_size(1200, 5000)
    driver.save_screenshot(str(OUT / "report.png"))
    driver.quit()
    still = browser("--force-prefers-reduced-motion")
    still.get(page)
    figure = still.find_element(By.ID, "mode-1")
    button = figure.find_element(By.CSS_SELECTOR, "button.play")
    still.execute_script("arguments[0].scrollIntoView()", figure)
    button.click()
    first = figure.screenshot_as_png
    time.sleep(0.5)
    check("with reduced motion a press shows one moment and stops", figure.screenshot_as_png == first)
    still.quit()
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
