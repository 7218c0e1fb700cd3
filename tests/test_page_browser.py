"""The supervisor's page in a real browser: worked by the keyboard alone, checked for accessibility, on wide and narrow
screens."""
from __future__ import annotations

import importlib.resources
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from companion.office.page import jobs
from companion.office.page.serve import listening
from companion.office.review_log import FindingAnswered, JobSignedOff, read_review
from pagemaker import fill, looked_at
from parts_needed import needs

PAGES = ("/jobs?finding=wrong-cylinder&mechanic=ME", "/jobs?page=2", "/job/van-17.jsonl", "/job/held.jsonl",
         "/job/changed.jsonl", "/trends", "/cards",
         "/office", "/help", "/jobs?page=0")
SCREENS = {"desk": (1280, "light"), "dark phone": (390, "dark"), "zoomed to 200 %": (640, "light")}


class Keyboard:
    """A browser with its mouse unplugged."""

    def __init__(self, driver: Any, address: str) -> None:
        self.driver, self.address = driver, address

    def go(self, page: str) -> None:
        """Type an address."""
        self.driver.get(self.address + page)

    def press(self, *keys: str) -> None:
        """Press keys, one after the other."""
        from selenium.webdriver.common.action_chains import ActionChains
        ActionChains(self.driver).send_keys(*keys).perform()

    def follow(self, *keys: str) -> None:
        """Press keys, then Enter, which leads to another page; it is there afterwards."""
        from selenium.webdriver.common.keys import Keys
        with self.led():
            self.press(*keys, Keys.ENTER)

    @contextmanager
    def led(self) -> Iterator[None]:
        """What happens in here leads to another page."""
        from selenium.webdriver.support.wait import WebDriverWait
        self.driver.execute_script("window.before = true")
        yield
        WebDriverWait(self.driver, 20, 0.02).until(
            lambda driver: driver.execute_script("return !window.before && document.readyState === 'complete'"))

    def access(self, key: str) -> None:
        """Press a key while Alt is held; what has the focus, or the page, is then another."""
        from selenium.webdriver.common.action_chains import ActionChains
        from selenium.webdriver.common.keys import Keys
        ActionChains(self.driver).key_down(Keys.ALT).send_keys(key).key_up(Keys.ALT).perform()

    def tab_to(self, words: str, most: int = 80) -> int:
        """Press Tab until what has the focus says `words`; how often. The focus can be seen at every stop."""
        from selenium.webdriver.common.keys import Keys
        for presses in range(1, most + 1):
            self.press(Keys.TAB)
            said, outline = self.driver.execute_script(
                "const e = document.activeElement; const label = e.labels && e.labels[0] ? e.labels[0].innerText : '';"
                "return [e.innerText + ' ' + label, getComputedStyle(e).outlineStyle + "
                "getComputedStyle(e).outlineWidth]")
            assert outline == "solid3px", (said, outline)
            if words in said:
                return presses
        raise AssertionError(f"{words} cannot be reached by Tab")

    @property
    def words(self) -> str:
        """What the page says."""
        return self.driver.execute_script("return document.body.innerText")


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """Jobs, one of them with a wrong cylinder."""
    return fill(tmp_path_factory.mktemp("jobs"))


@pytest.fixture(scope="module")
def keyboard(folder) -> Iterator[Keyboard]:
    """A real browser before the real server."""
    needs("chromium", "chromedriver", "selenium", "axe")
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service
    server = listening(looked_at(folder), 0)
    serving = threading.Thread(target=server.run, daemon=True)
    serving.start()
    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium")
    for word in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
                 "--disable-dev-shm-usage"):
        options.add_argument(word)
    driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
    paged = pytest.MonkeyPatch()
    paged.setattr(jobs, "PER_PAGE", 2)
    try:
        yield Keyboard(driver, f"http://127.0.0.1:{server.effective_port}")
    finally:
        paged.undo()
        driver.quit()
        server.close()
        serving.join(10)


def screen(driver: Any, name: str) -> None:
    """Set up a screen of `SCREENS`."""
    width, scheme = SCREENS[name]
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride",
                           {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False})
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme",
                                                                        "value": scheme}]})


def test_a_wrong_cylinder_is_found_replied_to_and_signed_off_by_keyboard(keyboard, folder):
    """From the first page, with Tab, Enter and letters alone, in a few dozen presses: what the supervisor and the
    mechanic say is in the office's log, and the job is no longer among those to be done."""
    from selenium.webdriver.common.keys import Keys
    screen(keyboard.driver, "desk")
    keyboard.go("/")
    presses = keyboard.tab_to("wrong-cylinder")
    keyboard.follow()
    assert "codes and readings point to cylinder three" in keyboard.words
    presses += keyboard.tab_to("van-17")
    keyboard.follow()
    presses += keyboard.tab_to("Reply to wrong-cylinder")
    assert presses < 80, "a newcomer has a minute"
    keyboard.press(Keys.ENTER)
    keyboard.tab_to("Your name", 1)
    keyboard.follow("B. Example", Keys.TAB, "I looked from the other end", Keys.TAB)
    assert "Written to the office's log, line 1," in keyboard.words
    assert "I looked from the other end – B. Example" in keyboard.words
    assert "wrong-cylinder: another cylinder was named" in keyboard.words, "it stays a finding"
    keyboard.tab_to("Your name")
    keyboard.follow(" ", Keys.TAB, "read, spoken about", Keys.TAB)
    assert "Your name: must be 1 to 200 printable characters" in keyboard.words
    assert keyboard.driver.execute_script("return document.activeElement.id") == "sign-by", "in the field that is wrong"
    keyboard.follow("A. Example", Keys.TAB, Keys.TAB)
    assert "Written to the office's log, line 2," in keyboard.words
    assert [type(entry.fact) for entry in read_review(folder).entries] == [FindingAnswered, JobSignedOff]
    keyboard.go("/")
    assert "van-17" not in keyboard.words


def test_the_keys_that_are_shown_work(keyboard):
    """Alt and the sign beside a link or button does what a press on it does, and the first Tab skips to the content."""
    from selenium.webdriver.common.keys import Keys
    screen(keyboard.driver, "desk")
    keyboard.go("/")
    for key, heading in (("2", "Trends"), ("3", "Cards"), ("4", "Office log"), ("5", "Help"), ("1", "Jobs")):
        with keyboard.led():
            keyboard.access(key)
        assert keyboard.driver.title.startswith(heading)
    keyboard.access("s")
    assert keyboard.driver.execute_script("return document.activeElement.name") == "text"
    keyboard.follow("cylinder three")
    assert keyboard.driver.current_url.endswith("/jobs?text=cylinder+three")
    keyboard.go("/jobs")
    keyboard.press(Keys.TAB)
    assert keyboard.driver.execute_script("return document.activeElement.innerText") == "Skip to the content"
    keyboard.press(Keys.ENTER)
    assert keyboard.driver.execute_script("return document.activeElement.id") == "content"


@pytest.mark.parametrize("name", SCREENS)
def test_no_page_has_a_fault_of_accessibility_on_any_screen(keyboard, name):
    """axe-core finds nothing, contrast included; nothing is wider than the screen; the browser complains of nothing and
    loads nothing from elsewhere."""
    axe = importlib.resources.files("axe_core_python").joinpath("axe.min.js").read_text("utf-8")
    driver = keyboard.driver
    screen(driver, name)
    only = {"dark phone": "runOnly: ['color-contrast'], ",
            "zoomed to 200 %": "runOnly: ['scrollable-region-focusable'], "}.get(name, "")
    for page in PAGES:
        keyboard.go(page)
        assert driver.execute_script("return document.documentElement.scrollWidth") <= SCREENS[name][0], page
        driver.execute_script(axe)
        checked, found = driver.execute_async_script(
            f"const done = arguments[0]; axe.run(document, {{{only} resultTypes: ['violations']}}).then(r => done(["
            "r.passes.length, r.violations.map(v => [v.id, v.help, v.nodes.map(n => n.html)])]))")
        assert (checked > 10 or only) and not found, (page, found)
        assert all(one.startswith(keyboard.address + "/") for one in driver.execute_script(
            "return performance.getEntriesByType('resource').map(entry => entry.name)")), page
    wrong = [one["message"] for one in driver.get_log("browser") if "status of 400" not in one["message"]]
    assert not wrong, wrong


def test_the_browser_runs_nothing_on_the_page(keyboard):
    """Even if markup got in, the page's policy keeps it from acting: no script, no style, no picture, no form to
    elsewhere."""
    driver = keyboard.driver
    keyboard.go("/jobs")
    driver.execute_script("const e = document.createElement('script'); e.textContent = 'window.ran = 1'; "
                          "document.body.append(e);"
                          "const b = document.createElement('p'); b.setAttribute('style', 'color:red'); b.id = 'red'; "
                          "document.body.append(b)")
    ran, colour = driver.execute_script("return [window.ran || 0, "
                                        "getComputedStyle(document.getElementById('red')).color]")
    assert ran == 0 and colour != "rgb(255, 0, 0)"
    assert len([one for one in driver.get_log("browser") if "Content Security Policy" in one["message"]]) == 2


def shown(driver: Any, css: str) -> list[Any]:
    """What of that is to be seen."""
    return [one for one in driver.find_elements("css selector", css) if one.is_displayed()]


def test_counts_stand_open_on_a_wide_screen_folded_on_a_narrow_one_and_not_on_paper(keyboard):
    """Before the jobs there is never a screen or a page of counts; on paper no line holds one short word of a cell."""
    driver = keyboard.driver
    counted = {}
    for name in ("desk", "dark phone"):
        screen(driver, name)
        keyboard.go("/jobs")
        counts, = shown(driver, "details.counts")
        counted[name] = counts.get_attribute("open"), len(shown(driver, ".counts .groups a")) > 3
    assert counted == {"desk": ("true", True), "dark phone": (None, False)}
    screen(driver, "desk")
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride",
                           {"width": 688, "height": 1000, "deviceScaleFactor": 1, "mobile": False})  # A4 less margins
    try:
        assert not shown(driver, "details.counts") and shown(driver, ".jobs td")
        widths = driver.execute_script("return [...document.querySelectorAll('.jobs thead th')]"
                                       ".map(e => e.offsetWidth)")
        assert min(widths) > 55, widths
        assert driver.execute_script("return [...document.querySelectorAll('.jobs td, .jobs th')]"
                                     ".every(e => e.scrollWidth <= e.clientWidth + 1)"), "no cell runs into the next"
    finally:
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
