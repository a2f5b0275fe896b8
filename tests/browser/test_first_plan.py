"""From an empty account to printed labels, as a new person would go, and a hand edit judged while it is made."""

import pytest
from looking import grave, keep, turn_page
from patience import PATIENCE_MS
from playwright.sync_api import expect

SHEET = """Toluene   108-88-3   EC 203-625-9   30 - 50 %
2-Butanone (MEK)  78-93-3   10 - <20 %
Proprietary resin   trade secret   5 %"""
FEW_ACTS = 60
"""Fields filled, boxes ticked, buttons and links pressed by who has no survey yet: ten minutes at ten seconds each."""


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_from_nothing_to_printed_labels_in_few_acts(open_page, width, tmp_path):
    """Everything on the way is done on the pages; no other page, command or document is opened."""
    acts, code = [], f"coat-{width}"
    page = open_page("/", as_="outsider", width=width)

    def press(name):
        acts.append(name)
        turn_page(page.get_by_role("button", name=name))

    def follow(name):
        acts.append(name)
        turn_page(page.get_by_role("link", name=name).last)

    def fill(**by_label):
        for label, text in by_label.items():
            acts.append(label)
            page.get_by_label(LABELS[label]).fill(text)

    def select(label, *chosen, **how):
        acts.append(label)
        page.get_by_label(label).select_option(*chosen, **how)

    follow("New survey")
    fill(
        title="Solvents on the coating line", code=code, purpose="A first look", who="H. Osterby", site=f"Tarn {width}"
    )
    select("Rule book that decides what a sample is worth", index=1)
    select("Its clock", "America/Denver")
    press("Make the survey")

    fill(sheet=SHEET)
    select("The work is done in", "US")
    press("Look up")
    assert "2 of 3 understood" in page.locator("#found").inner_text()
    assert grave(page) == []
    assert words_under_names(page) == []
    keep(page, f"first-plan-found-{width}")
    press("Take what is ticked")
    fill(group="COA", group_name="Coating line", workers="C-01 to C-09, operator")
    press("Enter them")
    fill(begins="06:00", ends="14:00", first="2026-12-07", days="3")
    press("Offer them")
    follow("On to the plan")

    follow("Begin the plan")
    boxes = page.get_by_role("checkbox").all()
    assert boxes, "what is asked can be ticked"
    for box in boxes:
        acts.append("box")
        box.check()
    page.get_by_label("Laboratory", exact=True).fill("Alder Bench")
    acts.append("laboratory")
    for label, text in (("Desorbed with", "solvent"), ("Reporting limit, µg", "5")):
        for field in page.get_by_label(label).all():
            acts.append(label)
            field.fill(text)
    fill(pumps="P-01 to P-14", pump_min="5", pump_max="500", splitters="D-1 to D-6", port_min="5", port_max="300",
         technicians="TA; TB")  # fmt: skip
    assert grave(page) == []
    press("Keep it")
    page.get_by_label("Seconds for the search, at most").fill("600")  # a slow machine proves it too, only later
    press("Search for the best plan")
    page.get_by_role("link", name="To the plan").wait_for(timeout=5 * PATIENCE_MS)
    expect(page.locator("main")).to_contain_text("proven best")
    follow("To the plan")
    assert grave(page) == []
    keep(page, f"first-plan-{width}")
    acts.append("labels")
    with page.expect_download() as printed:
        page.get_by_role("link", name="Labels with QR codes").click()
    labels = tmp_path / "labels.pdf"
    printed.value.save_as(labels)
    assert labels.read_bytes().startswith(b"%PDF-")
    assert len(acts) <= FEW_ACTS, acts
    assert page.complaints == []

    follow("Change train T2")
    pump = page.get_by_label("Pump", exact=True)
    taken = "P-01" if pump.input_value() != "P-01" else "P-02"
    pump.select_option(taken)
    expect(page.locator("#verdict")).to_contain_text(f"Pump {taken} is on 2 workers at once")
    assert grave(page) == []
    assert words_under_names(page) == []
    keep(page, f"first-plan-by-hand-{width}")
    widest = page.evaluate("document.documentElement.scrollWidth")
    assert widest <= page.viewport_size["width"]

    for part in ("Windows", "Whom and how many"):
        turn_page(page.get_by_role("link", name=part, exact=True))
        page.get_by_role("heading", name=part, exact=True).wait_for()
        assert page.evaluate(NARROWEST_FACT) >= LEAST_FACT_PX
        assert page.evaluate(CUES_WITHOUT_NEED) == 0
        keep(page, f"first-plan-{part.split()[0].lower()}-{width}")


# On a card a cell is a grid, its name on the left; words beside an element would fall under the name.
WORDS_UNDER_NAMES = """() => [...document.querySelectorAll("td[data-label]")].filter((cell) => {
  if (getComputedStyle(cell).display !== "grid") return false;
  const texts = [...cell.childNodes].filter((node) => node.nodeType === Node.TEXT_NODE && node.data.trim());
  return texts.length > 0 && cell.childElementCount > 0;
}).map((cell) => cell.dataset.label + ": " + cell.textContent.trim())"""
NARROWEST_FACT = """() => Math.min(...[...document.querySelectorAll("dl.pairs dd")].map((dd) => dd.clientWidth))"""
LEAST_FACT_PX = 150
CUES_WITHOUT_NEED = """() => [...document.querySelectorAll(".chart-frame")].filter((frame) => {
  const chart = frame.querySelector(".chart");
  const is_said = getComputedStyle(frame.querySelector(".chart-cue")).display !== "none";
  return is_said !== (chart.scrollWidth > chart.clientWidth);
}).length"""


def words_under_names(page):
    """Cells of cards whose words do not stand in one box."""
    return page.evaluate(WORDS_UNDER_NAMES)


LABELS = {
    "title": "What the survey is called",
    "code": "Short code",
    "purpose": "Why it is done, in a sentence",
    "who": "Who answers for it",
    "site": "Name of the new site",
    "sheet": "Names, CAS numbers, or the ingredients of a safety data sheet",
    "group": "Group’s code",
    "group_name": "What the group is called",
    "workers": "Workers by code, never by name",
    "begins": "Shift begins",
    "ends": "Shift ends",
    "first": "First day",
    "days": "How many days",
    "pumps": "Pumps by code",
    "pump_min": "Lowest flow they hold, mL/min",
    "pump_max": "Highest flow they hold, mL/min",
    "splitters": "Splitters by code",
    "port_min": "Lowest flow a port holds, mL/min",
    "port_max": "Highest flow a port holds, mL/min",
    "technicians": "Who hangs and watches the pumps, by code",
}
