"""A hand on the field page: it taps, and counts its taps; what it may not do with a finger it cannot do."""

import re

from patience import PATIENCE_MS, until
from playwright.sync_api import Error


class Hand:
    """One device with somebody's finger on it."""

    def __init__(self, page):
        self.page = page
        self.taps = 0
        self.digits = 0

    def at_rest(self):
        """Wait until what was tapped before is on the disk: meanwhile the page takes nothing else."""
        self.page.locator(".frame:not(.busy)").wait_for()

    def tap(self, name, *, role="button", exact=False, within=None):
        """Tap what is called so; the first one that is on the screen."""
        name = re.compile(name) if isinstance(name, str) and not exact else name
        place = self.page.locator(within) if within else self.page
        target = place.get_by_role(role, name=name, exact=exact).first
        self.at_rest()
        target.click()
        self.taps += 1

    def type_on_pad(self, text, keep="Keep"):
        """Tap a number digit by digit, then the button under the pad. Every digit is a tap."""
        self.at_rest()
        for sign in text:
            self.page.locator(".keys").get_by_role("button", name="Point" if sign == "." else sign, exact=True).click()
            self.taps += 1
            self.digits += 1
        self.page.locator(".pad .keep").click()
        self.taps += 1

    def near(self, text):
        """Tap a value that is offered near the last one: typed and kept in one."""
        self.at_rest()
        self.page.locator(".near").get_by_role("button", name=re.compile(rf"^Keep {re.escape(text)} ")).click()
        self.taps += 1

    def read(self, text):
        """Give a reading as a person would: by a near key where it is one, else digit by digit."""
        self.at_rest()
        offered = self.page.locator(".near").get_by_role("button", name=re.compile(rf"^Keep {re.escape(text)} "))
        if offered.count():
            self.near(text)
        else:
            self.type_on_pad(text)

    def scan(self, code):
        """A scanner that types like a keyboard: in one burst, with Enter at the end. No tap."""
        self.at_rest()
        self.page.evaluate(
            """code => { for (const key of [...code, 'Enter']) {
              const pressed = new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true });
              document.activeElement.dispatchEvent(pressed);
            } }""",
            code,
        )

    def see(self, words):
        """Wait until these words stand on the screen."""
        self._wait_for(words, self.page)

    def kept(self, words):
        """Wait until the page says that it was kept."""
        self._wait_for(words, self.page.locator(".toast"))

    def _wait_for(self, words, place):
        try:
            place.get_by_text(re.compile(words)).first.wait_for()
        except Error as late:
            says = self.page.locator("#field").inner_text()
            raise AssertionError(f"waited for “{words}”; the page says:\n{says}") from late

    def go(self, *route):
        """Go somewhere by the address, as a test may; not counted."""
        self.page.evaluate("hash => { location.hash = hash }", "#/" + "/".join(route))
        self.page.locator(f".at-{route[0]}").wait_for()


def pair(page, office, code, *, survey="Solvents", author="NK"):
    """Pair a device through its screens, choose the survey, and say who records."""
    page.context.set_default_timeout(PATIENCE_MS)
    page.goto(f"{office}/field/pair#{code}")
    hand = Hand(page)
    page.get_by_label("Code").wait_for()
    page.get_by_role("button", name="Pair", exact=True).click()
    page.get_by_role("button", name=re.compile(survey)).click()
    page.get_by_label("Who records").fill(author)
    page.get_by_role("button", name="Begin").click()
    page.locator(".at-prepare").wait_for()
    until(page, "document.getElementById('field').field.pack !== null")  # as a person waits for it
    return hand


MODULES = """async () => {
  const start = document.querySelector('script[type=module]').src;
  const { openField } = await import(start.replace('start.js', 'field.js'));
  globalThis.another ??= await openField();
  await globalThis.another.load();
  return globalThis.another;
}"""


def core(page, script, argument=None):
    """Do something with the page's own core, as a second tab would; `script` is a function of (field, argument)."""
    return page.evaluate(
        f"async (argument) => {{ const field = await ({MODULES})(); return ({script})(field, argument); }}", argument
    )
