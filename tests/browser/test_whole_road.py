"""From the judgement to a dossier that verifies: three people walk the rest of the road in real browsers."""

import re
import subprocess
import sys

import pytest
from cast import PASSWORD
from looking import grave, keep, turn_page
from patience import PATIENCE_MS
from playwright.sync_api import expect

GROUP = "/surveys/demo/groups/COAT-toluene-US-OSHA-TWA/"
REPORT = "/surveys/demo/report/"
REVIEW = "/surveys/demo/review/"


def says(page, text):
    """Wait until the page says this."""
    expect(page.locator("main")).to_contain_text(text)


def look(page, name):
    assert grave(page) == []
    keep(page, f"road-{name}")


def fetched(page, link, path):
    """Fetch a document, over the page that says how far it is where it takes longer."""
    with page.expect_download(timeout=PATIENCE_MS) as coming:
        link.click()
        ready = page.get_by_role("link", name="Fetch it")
        for _ in range(PATIENCE_MS // 250):
            if coming.is_done():
                break
            if ready.count():
                ready.click()
                break
            page.wait_for_timeout(250)
    coming.value.save_as(path)
    return path.read_bytes()


def sign(page):
    page.get_by_label("I have read what I sign").check()
    page.get_by_label("Your password, once more").fill(PASSWORD)
    turn_page(page.get_by_role("button", name="Sign", exact=True))


@pytest.mark.parametrize("width", ["desk"])
def test_three_people_walk_from_the_judgement_to_a_dossier_that_holds(open_page, width, tmp_path):
    # The technician reads the group and goes down from its result to the reading; what follows is not theirs to do.
    page = open_page(GROUP, as_="technician", width=width)
    page.get_by_role("heading", name="The results, down to their working").wait_for()
    assert page.get_by_role("link", name=re.compile("^Make it mine")).count() == 0
    turn_page(page.locator("#results").locator("xpath=..").get_by_role("link", name="G-101"))
    page.wait_for_url("**/samples/G-101/**")
    page.goto(page.url.split("/surveys/")[0] + REVIEW)
    assert page.get_by_role("link", name=re.compile("^Sign as")).count() == 0

    # The lead takes a proposal, in own words, writes the texts, says whom to ask, and signs as author.
    page = open_page(GROUP, as_="lead", width=width)
    page.get_by_role("link", name=re.compile("^Make it mine")).first.wait_for()
    turn_page(page.get_by_role("link", name=re.compile("^Make it mine")).first)
    proposed = page.get_by_label("What is to be done").input_value()
    assert proposed
    page.get_by_label("What is to be done").fill("Fit an extraction hood over the coating head.")
    page.get_by_label("Who does it").fill("Maintenance")
    page.get_by_label("By", exact=True).fill("2027-01-29")
    turn_page(page.get_by_role("button", name="Keep it"))
    says(page, "Fit an extraction hood over the coating head.")
    turn_page(page.get_by_role("link", name="Write the texts"))
    page.get_by_label("Work and tasks").fill("Belts are coated and joined by solvent.")
    page.get_by_label("Controls and protection seen").fill("Two wall fans; no hood.")
    page.get_by_label("Whom, when and why").fill("Everybody at the line, on three shifts.")
    page.get_by_label("Weak places").fill("One season, few shifts.")
    turn_page(page.get_by_role("button", name="Keep the texts"))
    turn_page(page.get_by_role("link", name="Contact, calendar, completion"))
    page.get_by_label("Whom workers may ask").fill("Health and safety, extension 4411")
    page.get_by_label("Calendar of public holidays").fill("US")
    turn_page(page.get_by_role("button", name="Keep it"))
    says(page, "Public holidays of US are left out.")
    look(page, "report")
    page.goto(page.url.split("/surveys/")[0] + REVIEW)
    turn_page(page.get_by_role("link", name="Sign as author"))
    page.get_by_label("Your password, once more").fill("not my password")
    page.get_by_label("I have read what I sign").check()
    turn_page(page.get_by_role("button", name="Sign", exact=True))
    says(page, "This is not your password. Nothing was signed.")
    sign(page)
    says(page, "Signed as author")

    # The reviewer asks about a number, is refused while it is open; the lead answers; the reviewer signs.
    reviewer = open_page("/surveys/demo/samples/G-107/", as_="reviewer", width=width)
    turn_page(reviewer.get_by_role("link", name="Question this"))
    assert reviewer.get_by_label("About").input_value() == "sample G-107"
    reviewer.get_by_label("What you ask or doubt").fill("Why was this pump not checked at noon?")
    turn_page(reviewer.get_by_role("button", name="Ask", exact=True))
    turn_page(reviewer.get_by_role("link", name="Sign as reviewer"))
    sign(reviewer)
    says(reviewer, "not answered yet")
    page.goto(page.url.split("/surveys/")[0] + REVIEW)
    turn_page(page.get_by_role("link", name=re.compile("^Answer")))
    page.get_by_label("Answer").fill("It was; the entry is in the log of the day.")
    turn_page(page.get_by_role("button", name="Keep it"))
    reviewer.goto(reviewer.url.split("/surveys/")[0] + REVIEW + "sign/")
    sign(reviewer)
    says(reviewer, "Signed as reviewer")
    assert reviewer.locator("#signatures").locator("xpath=..").get_by_text("holds").count() == 2
    look(reviewer, "review")
    turn_page(reviewer.get_by_role("link", name="reviewer").first)
    look(reviewer, "signature")

    # The lead tells everybody, fetches report and dossier; the road is done; verify says the dossier holds.
    page.goto(page.url.split("/surveys/")[0] + REPORT)
    turn_page(page.get_by_role("link", name="Record who was told"))
    for tick in page.get_by_role("checkbox").all():
        tick.check()
    page.get_by_label("How").select_option("talk")
    page.get_by_label("What proves it").fill("Signed slips, folder 7.")
    turn_page(page.get_by_role("button", name="Record it"))
    says(page, "Everybody was told.")
    look(page, "told")
    turn_page(page.get_by_role("link", name="Report", exact=True).first)
    report = fetched(page, page.get_by_role("link", name="Survey report in English"), tmp_path / "report.pdf")
    assert report.startswith(b"%PDF")
    page.goto(page.url.split("/surveys/")[0] + REPORT + "dossier/")
    public = re.search(r"\b[0-9a-f]{64}\b", page.locator("main").inner_text())[0]
    dossier = tmp_path / "dossier.zip"
    assert fetched(page, page.get_by_role("link", name="Fetch the dossier"), dossier).startswith(b"PK")
    said = subprocess.run(
        [sys.executable, "-m", "lapel.cli.main", "verify", str(dossier), "--key", public],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert said.returncode == 0, said.stdout + said.stderr
    page.goto(page.url.split("/surveys/")[0] + "/surveys/demo/")
    road = page.locator("ol.road > li")
    for stage in (6, 7):
        assert "done" in road.nth(stage).inner_text()
    look(page, "done")
    assert [said for said in page.complaints if "422" not in said] == []
