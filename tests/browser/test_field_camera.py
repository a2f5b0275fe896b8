"""Labels read through a camera that films one of ours, by the reader the page brings where the browser has none."""

import io
from base64 import b64encode

import chromium as browsers
import pytest
from field_day_acts import hung_and_started, prepared
from field_screens import day_of, entries_of, record
from looking import grave, keep
from patience import until
from PIL import Image
from playwright.sync_api import expect
from test_field_kit import AS_PLANNED

from lapel.pictures.qr_code import qr_code

WIDE, HIGH = 640, 480
TABLE = """<body style="margin:0;background:#8a8578;display:grid;place-items:center;height:100vh;overflow:hidden">
<div style="background:#fff;padding:14px;transform:rotate(9deg) skew(3deg);filter:blur(0.8px)">%s<b>%s</b></div>"""


def filmed(browser, file, text):
    """A film of one picture: a label of ours on a table, somewhat askew and out of focus, as YUV4MPEG2."""
    page = browser.new_page(viewport={"width": WIDE, "height": HIGH})
    page.set_content(TABLE % (qr_code(text, size=260).svg(), text[:12]))
    grey = Image.open(io.BytesIO(page.screenshot())).convert("L").tobytes()
    page.close()
    frame = b"FRAME\n" + grey + b"\x80" * (len(grey) // 2)
    file.write_bytes(f"YUV4MPEG2 W{WIDE} H{HIGH} F5:1 Ip A1:1 C420jpeg\n".encode() + 2 * frame)


@pytest.fixture(scope="module")
def chromium(playwright, browser_program, tmp_path_factory):
    """A browser whose camera films the label of sampler G-101."""
    film = tmp_path_factory.mktemp("film") / "label.y4m"
    plain = playwright.chromium.launch(executable_path=browser_program, args=browsers.ARGUMENTS)
    filmed(plain, film, "G-101")
    plain.close()
    camera = ("--use-fake-device-for-media-stream", f"--use-file-for-fake-video-capture={film}")
    browser = playwright.chromium.launch(executable_path=browser_program, args=[*browsers.ARGUMENTS, *camera])
    yield browser
    browser.close()


WATCHED = """void (() => {
  globalThis.felt = [];
  navigator.vibrate = (pattern) => Boolean(globalThis.felt.push(pattern));
  globalThis.streams = [];
  const open = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
  navigator.mediaDevices.getUserMedia = async (wanted) => {
    const stream = await open(wanted);
    globalThis.streams.push(stream);
    return stream;
  };
})()"""
ALL_OFF = """(given) => streams.length === given
  && streams.every((one) => one.getTracks().every((track) => track.readyState === 'ended'))"""


@pytest.fixture
def at_the_port(device):
    """A train whose port A waits for its tube, and a hand; the browser has no reader of its own."""

    def made(*, allowed=True):
        hand = device()
        if allowed:
            hand.page.context.grant_permissions(["camera"])
        hand.page.evaluate(WATCHED)
        record(hand, [*prepared("T-101"), hung_and_started("T-101")[0]])
        hand.go("start", "T-101")
        hand.see("Port A: scan its tube")
        return hand

    return made


def test_the_camera_reads_a_printed_label_binds_the_sampler_and_is_switched_off(at_the_port):
    hand = at_the_port()
    assert hand.page.evaluate("'BarcodeDetector' in globalThis") is False  # else the browser's own is what is tested
    hand.tap("Read the label with the camera")
    hand.kept("G-101 on port A")
    run = day_of(hand)["runs"]["G-101"]
    assert (run["train"], run["port"], run["how"], run["lot"]) == ("T-101", "A", "scanned", "CH-7715")
    assert hand.page.evaluate(ALL_OFF, 1)
    expect(hand.page.locator("dialog.camera")).to_have_count(0)
    assert hand.page.evaluate("felt") == [35, [35]]  # read; kept
    assert hand.page.complaints == []


def test_a_camera_refused_missing_or_closed_again_leaves_the_other_ways_open(at_the_port):
    hand = at_the_port(allowed=False)
    camera = hand.page.locator("dialog.camera")
    hand.tap("Read the label with the camera")
    hand.see("This page may not use the camera")
    hand.page.evaluate(
        "void (navigator.mediaDevices.getUserMedia = async () => { throw new DOMException('none', 'NotFoundError') })"
    )
    hand.tap("Read the label with the camera")
    hand.see("The camera cannot be used. Choose by number")
    hand.page.evaluate("void (navigator.mediaDevices.getUserMedia = async () => new MediaStream())")
    hand.tap("Read the label with the camera")
    camera.get_by_role("button", name="Cancel").click()  # it never sends a picture
    camera.wait_for(state="detached")
    hand.page.evaluate(WALL)
    for closing in (
        lambda: camera.get_by_role("button", name="Cancel").click(),
        lambda: hand.page.keyboard.press("Escape"),
        lambda: hand.go("run"),
        lambda: hand.page.evaluate("streams.at(-1).getTracks()[0].dispatchEvent(new Event('ended'))"),  # unplugged
    ):
        hand.go("start", "T-101")
        hand.tap("Read the label with the camera")
        camera.get_by_text("Hold the label still").wait_for()
        closing()
        camera.wait_for(state="detached")
    until(hand.page, ALL_OFF, 4)
    assert day_of(hand)["runs"] == {}
    hand.go("start", "T-101")
    hand.scan("G-101")  # the keyboard's way is still there
    hand.kept("G-101 on port A")


WALL = """void (() => {
  globalThis.streams = [];
  globalThis.canvas = Object.assign(document.createElement('canvas'), { width: 640, height: 480 });
  globalThis.held = new Image();
  const pen = globalThis.canvas.getContext('2d');
  setInterval(() => {  // a picture only where something is drawn
    pen.fillRect(0, 0, 640, 480);
    pen.drawImage(globalThis.held, 100, 20, 440, 440);
  }, 100);
  navigator.mediaDevices.getUserMedia = async () => {
    const stream = globalThis.canvas.captureStream(5);
    globalThis.streams.push(stream);
    return stream;
  };
})()"""
"""A camera before which things can be held: a blank wall at first."""

HELD = """async (address) => {
  globalThis.held.src = address;
  await globalThis.held.decode();
}"""


def hold(hand, text):
    """Hold a code before the camera, as our documents print it."""
    hand.page.evaluate(HELD, f"data:image/svg+xml;base64,{b64encode(qr_code(text, size=440).svg().encode()).decode()}")


def test_a_code_that_is_none_of_ours_is_said_and_a_kit_sheets_code_is_looked_at(at_the_port):
    hand = at_the_port()
    hand.page.evaluate(WALL)
    hold(hand, "https://shop.example/offers?id=7")
    hand.tap("Read the label with the camera")
    hand.see("Stop: 7")
    hand.see("7 is not among the day.s samplers")
    assert day_of(hand)["runs"] == {}
    hand.go("kit", "T-101")
    hand.tap("Read the label with the camera")
    hand.see("not the code of a kit sheet")
    hold(hand, AS_PLANNED)
    hand.tap("Read the label with the camera")
    hand.see("Read from its code")
    hand.tap("^Keep the sheet")
    hand.kept("kit sheet of 3 ports")
    assert [one["fields"]["how"] for one in entries_of(hand) if one["kind"] == "kit_sheet"] == ["scanned"] * 3


def test_what_the_camera_sees_can_be_looked_at_in_every_theme(at_the_port):
    hand = at_the_port()
    hand.page.evaluate(WALL)
    hold(hand, "G-101")
    hand.page.evaluate("void (OffscreenCanvas.prototype.getContext = () => null)")  # it sees, and reads nothing
    keep(hand.page, "camera-button")
    hand.tap("Read the label with the camera")
    hand.see("Hold the label still")
    for theme in ("light", "dark", "outdoor"):
        hand.page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
        keep(hand.page, f"camera-{theme}")
        assert grave(hand.page, only_colours=theme != "light") == []
