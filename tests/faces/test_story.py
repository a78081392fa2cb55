"""The whole story of a wound, from the first call to the closed wound, walked by mouse, by keys and by touch."""

import re
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect
from tests.faces.hands import Finger, Hand, Keyboard, Mouse

from soakline.guard.gate import FIRST_CALL
from soakline.guard.gate import STOPS as STOPS_OF_GATE

WAIT_MS = 30_000
STOPS = [asked.key for asked in (*FIRST_CALL, *STOPS_OF_GATE)]
ORDER = {
    "fill_ml": "40",
    "ordered_fill_ml": "40",
    "fill_min": "2",
    "dwell_min": "8",
    "suction_min": "170",
    "pressure_mmhg": "-125",
    "canister_ml": "1000",
    "bag_ml": "500",
    "priming_ml": "15",
}


class Story:
    """One wound from its first call on; ``hand`` does all that a person does, the rest only looks."""

    def __init__(self, page, hand: Hand, label: str) -> None:
        self.page, self.hand, self.label = page, hand, label
        self.started = datetime.now(UTC).replace(tzinfo=None, second=0, microsecond=0) - timedelta(hours=30)
        self.case = ""

    def button(self, name):
        return self.page.get_by_role("button", name=name, exact=True)

    def link(self, name):
        return self.page.locator("main").get_by_role("link", name=name, exact=True)

    def field(self, name):
        return self.page.locator(f'form.change [name="{name}"]')

    def choice(self, name, value):
        return self.page.locator(f'[name="{name}"][value="{value}"]')

    def file(self):
        return self.page.request.get(f"{self.case}/case.toml").text()

    def follow(self, link, address):
        self.hand.press(self.link(link))
        self.page.wait_for_url(re.compile(f"{address}$"))

    def kept(self):
        """Wait until what was taken over is kept, and its plan stands on the page of the case."""
        self.page.wait_for_url(re.compile(r"/cases/\d+$"))

    def first_call(self):
        """A new case begins with what a caller knows; the measures are asked one at a time and read back."""
        self.page.goto("/")
        self.follow("New case", "/cases/new")
        for name, words in (("label", self.label), ("girth_cm", "100"), ("time_zone", "UTC")):
            self.hand.write(self.page.locator(f"#{name}"), words)
        for name, option in (("part", "trunk"), ("face", "front")):
            self.hand.pick(self.page.locator(f"#{name}"), option)
        self.hand.press(self.button("Begin the case"))
        self.kept()
        self.case = self.page.url
        expect(self.page.get_by_role("heading", level=1)).to_have_text(self.label)
        self.follow("Measure", "/measure")
        self.hand.press(self.button("By phone: one question at a time"))
        for asked, value, heard in (
            ("How long", "6", "length of the opening: 6 cm (six)"),
            ("How wide", "5", "width of the opening: 5 cm (five)"),
            ("How deep", "2.5", "depth: 2.5 cm (two point five)"),
            ("How far round is the trunk", "102", "girth: 102 cm (one zero two)"),
        ):
            expect(self.page.locator("#ask")).to_contain_text(asked)
            self.hand.write(self.page.locator("#answers input"), value)
            self.keep_what_was_heard(heard)
        for hour in (1, 2):
            expect(self.page.locator("#ask")).to_contain_text(f"At {hour} o'clock")
            self.hand.pick(self.page.locator("#answers select"), "undermined")
            self.hand.write(self.page.locator("#answers input"), "4")
            self.keep_what_was_heard(f"at {hour} o'clock: undermined, 4 cm (four) from the edge")
        self.hand.press(self.button("Take over into the case file"))
        self.kept()
        assert "length_cm = 6" in self.file()
        assert "reach_cm = 4" in self.file()
        assert "girth_cm = 102" in self.file()

    def keep_what_was_heard(self, words):
        self.hand.press(self.button("Read back"))
        expect(self.page.locator("#readback")).to_have_text(words)
        self.hand.press(self.button("They heard the same: keep"))

    def measuring(self):
        """At the bedside the dial takes the hours that nobody knew on the telephone."""
        self.follow("Measure", "/measure")
        dial = self.page.locator("#dial")
        third = self.page.get_by_role("slider", name="Reach at 3 o'clock, cm")
        third.wait_for()
        dial.evaluate("(one) => one.querySelector('svg').classList.add('before')")
        self.hand.pull(third, 60, 0, ["ArrowUp"] * 6)
        expect(dial.locator("svg.before")).to_have_count(0)
        reach = self.page.get_by_label("Reach in cm at 3 o'clock")
        expect(reach).to_have_value(re.compile(r"^[2-5](\.5)?$"))
        self.hand.pull(self.page.get_by_role("slider", name="Reach at 9 o'clock, cm"), 30, 0, ["n"])
        expect(self.page.get_by_label("Probe at 9 o'clock")).to_have_value("none found")
        for end, height in (("low", "1"), ("likely", "1.5"), ("high", "2")):
            self.hand.write(self.page.get_by_label(f"Pocket height {end}, cm, 1 to 3 o'clock"), height)
        self.hand.press(self.button("Take over into the case file"))
        self.kept()
        assert "height_cm = { low = 1" in self.file()

    def gate(self):
        """Each stop is asked; one that somebody looked for in vain is not known, until it is no."""
        expect(self.page.get_by_role("region", name="Gate")).to_contain_text("Shut")
        self.follow("Answer each stop", "/gate")
        for stop in STOPS:
            self.hand.tick(self.choice(f"gate.{stop}", "unknown" if stop == "malignancy" else "no"))
        self.save_answers()
        expect(self.page.get_by_role("region", name="Gate")).to_contain_text("malignancy in the wound malignancy")
        expect(self.page.get_by_role("row").filter(has_text="malignancy")).to_contain_text("not known")
        self.follow("Answer this: malignancy in the wound", "/gate#gate.malignancy")
        self.hand.tick(self.choice("gate.malignancy", "no"))
        self.save_answers()
        assert self.file().count('= "no"') == len(STOPS)

    def order(self):
        """What was ordered is written as it was signed; a minus that was forgotten is told at its field."""
        self.follow("Order", "/order")
        self.hand.write(self.field("new.unit.name"), "A")
        for key, words in (ORDER | {"pressure_mmhg": "125"}).items():
            self.hand.write(self.field(f"new.unit.{key}"), words)
        self.hand.write_time(self.field("new.unit.started_at"), self.started)
        for end, rate in (("low", "15"), ("likely", "25"), ("high", "40")):
            self.hand.write(self.field(f"exudate.ml_per_h.{end}"), rate)
        self.hand.press(self.button("Save"))
        self.is_told_at(self.field("new.unit.pressure_mmhg"), "written with a minus sign")
        self.hand.write(self.field("new.unit.pressure_mmhg"), ORDER["pressure_mmhg"])
        self.save_answers()
        for key, words in ORDER.items():
            assert f"{key} = {words}\n" in self.file()

    def theatre(self):
        """The first foam is laid in theatre, by its name, with label and note."""
        self.follow("Dressing laid", "/dressing")
        self.hand.write_time(self.field("laid.placed_at"), self.started)
        self.hand.write(self.field("laid.placed_by_role"), "surgeon")
        for key, words in (("name", "A1"), ("place", "left pocket")):
            self.hand.write(self.field(f"new.foam.0.{key}"), words)
        self.save_answers()
        expect(self.page.get_by_role("region", name="Foam inside")).to_contain_text("A1 foam, left pocket")

    def is_saved(self):
        """Wait until the page says so, in its own style: before that a field has another size."""
        expect(self.page.locator("#saved")).to_be_visible()
        self.page.wait_for_load_state()

    def save_answers(self):
        self.hand.press(self.button("Save"))
        self.is_saved()
        self.follow("Back to the case", self.case)

    def planning(self, fill_ml):
        """A port is put on the map and pulled, the fill changed; both go into the file."""
        self.follow("Try ports and fill", "/try")
        status = self.page.locator("#status")
        if not self.page.get_by_label("Hour of port I1").count():
            self.hand.press(self.button("Add instillation port"))
        expect(status).to_contain_text("mL through I1")
        before = self.page.get_by_label("Hour of port I1").input_value()
        self.hand.pull(
            self.page.get_by_role("slider", name=re.compile("^Port I1,")), 45, 30, ["ArrowRight", "ArrowUp", "ArrowUp"]
        )
        expect(self.page.get_by_label("Hour of port I1")).not_to_have_value(before)
        self.hand.write(self.page.get_by_label("Fill of unit A in mL", exact=True), fill_ml)
        expect(status).to_contain_text(f"{fill_ml} mL through I1")
        self.hand.press(self.button("Take over into the case file"))
        self.kept()
        assert f"fill_ml = {fill_ml}" in self.file()
        assert self.page.get_by_role("region", name="Reach in each posture").is_visible()

    def night(self):
        """The night nurse meets an alarm while writing, comes back to what was typed, is told what is missing."""
        self.follow("Write down", "/shift")
        self.hand.write_time(self.field("at"), self.started + timedelta(hours=10))
        self.hand.write(self.field("by_role"), "night nurse")
        self.hand.write(self.field("unit.0.canister"), "250")
        self.hand.write(self.field("unit.0.instilled"), "135")
        self.follow("Trouble", "/trouble")
        for reply in ("No, none of these", "Canister full", "No"):
            self.hand.press(self.link(reply))
        expect(self.page.get_by_text("Call:")).to_be_visible()
        self.follow("Write down", "/shift")
        expect(self.field("unit.0.canister")).to_have_value("250")
        self.hand.press(self.button("Save"))
        self.is_told_at(self.page.get_by_role("radiogroup", name="Look first: is there"), "not answered")
        self.is_told_at(self.field("unit.0.colour"), "a mark without a colour")
        self.hand.tick(self.choice("sign", "none"))
        self.hand.write(self.field("unit.0.colour"), "clear pink")
        self.hand.press(self.button("Save"))
        self.is_saved()
        self.hand.write_time(self.field("at"), self.started + timedelta(hours=24))
        self.hand.tick(self.choice("sign", "none"))
        for name, words in (("canister", "900"), ("colour", "clear"), ("instilled", "180")):
            self.hand.write(self.field(f"unit.0.{name}"), words)
        self.hand.press(self.button("Save"))
        expect(self.page.locator("section[aria-labelledby=adds]")).to_contain_text("net: 900 − 315 = 585 mL")
        assert [self.file().count(f"ml = {ml}") for ml in (250, 135, 900, 180)] == [1, 1, 1, 1]
        assert self.file().count('by_role = "night nurse"') == 2
        self.follow("Back to the case", self.case)

    def is_told_at(self, field, says):
        """A field that is refused says so itself, and in which words."""
        expect(field).to_have_attribute("aria-invalid", "true")
        expect(field).to_have_accessible_description(re.compile(says))

    def change(self):
        """The day of the change: count out, the ordered wait, look and probe, count in."""
        self.follow("Change of dressing", "/change")
        now = datetime.now(UTC).replace(tzinfo=None)
        self.hand.write_time(self.field("at"), now - timedelta(hours=1))
        self.hand.write(self.field("by_role"), "wound nurse")
        self.hand.tick(self.choice("pain_before", "3"))
        self.hand.tick(self.choice("out.0", "out whole"))
        for name in ("label_count", "note_count", "objects_count"):
            self.hand.write(self.field(name), "1")
        self.hand.press(self.page.get_by_text("Another dose was given"))
        for name, words in (("strength", "1 %"), ("volume_ml", "10"), ("route", "instilled")):
            self.hand.write(self.field(f"dose.new.{name}"), words)
        self.hand.write_time(self.field("dose.new.at"), now)
        self.hand.write(self.field("dose.new.wait_min"), "20")
        expect(self.page.locator(".timer [role=status]")).to_contain_text("minutes left of the ordered wait")
        self.hand.write(self.field("looked"), "red, moist bed")
        self.hand.write(self.field("length_cm"), "5.5")
        self.hand.write(self.field("probe.3.reach_cm"), "2")
        self.hand.tick(self.choice("pain_during", "5"))
        for name, words in (("name", "A2"), ("place", "left pocket"), ("trimmed", "one corner")):
            self.hand.write(self.field(f"in.0.{name}"), words)
        self.hand.write_time(self.field("closed_at"), now)
        self.hand.tick(self.choice("pain_after", "2"))
        self.hand.press(self.button("Save this change"))
        expect(self.page.get_by_text("For the label on the drape")).to_contain_text("1 piece inside: A2 foam")
        for line in ("pain_before = 3", 'looked = "red, moist bed"', "reach_cm = 2", 'name = "A2"', "volume_ml = 10"):
            assert line in self.file()

    def measuring_again(self):
        """What the probe found at the change goes on to the dial, from which the next plan is made."""
        self.follow("Measure on the dial", "/measure")
        self.hand.write(self.page.get_by_label("length, 12 to 6 o'clock, cm"), "5.5")
        self.hand.write(self.page.get_by_label("Reach in cm at 3 o'clock"), "2")
        self.hand.press(self.button("Take over into the case file"))
        self.kept()
        assert "length_cm = 5.5" in self.file()

    def papers(self):
        """The card is printed, and stands in the history of the case."""
        with self.page.expect_response("**/card.pdf") as given:
            self.hand.press(self.link("Bedside card (PDF)"))
        assert given.value.headers["content-type"] == "application/pdf"
        self.page.wait_for_url("**/card.pdf", wait_until="commit")
        self.page.goto(self.case)
        self.follow("History", "/history")
        expect(self.page.locator("main")).to_contain_text("bedside card")
        self.follow(self.label, self.case)

    def last_change(self):
        """The last piece is counted out, and none goes in."""
        self.follow("Change of dressing", "/change")
        self.hand.write_time(self.field("at"), datetime.now(UTC).replace(tzinfo=None))
        self.hand.write(self.field("by_role"), "wound nurse")
        self.hand.tick(self.choice("out.1", "out whole"))
        self.hand.press(self.button("Save this change"))
        expect(self.page.get_by_text("Not written yet")).to_be_visible()
        assert self.file().count('state = "out whole"') == 2
        self.follow("Back to the case", self.case)

    def close(self):
        """The wound is closed, and so is the case: it leaves the list and is found among the closed ones."""
        self.follow("Close the case", "/close")
        expect(self.page.get_by_text("Not resolved in this case")).to_have_count(0)
        self.hand.pick(self.field("kind"), "wound closed")
        self.hand.write(self.field("says"), "closed in theatre, no foam inside")
        self.hand.write(self.field("by_role"), "surgeon")
        self.hand.press(self.button("Close the case"))
        self.kept()
        self.page.goto("/")
        expect(self.link(self.label)).to_have_count(0)
        self.hand.press(self.link(re.compile("closed$")))
        expect(self.page.get_by_role("row").filter(has_text=self.label)).to_contain_text("closed in theatre")

    def walk(self):
        self.first_call()
        self.measuring()
        self.gate()
        self.order()
        self.theatre()
        self.planning("45")
        self.night()
        self.change()
        self.measuring_again()
        self.planning("35")
        self.papers()
        self.last_change()
        self.close()


@pytest.fixture
def story(new_context):
    """Begin a story in a browser of its own, which may note a refused save, as it should."""

    def begin(hand, label, **more):
        page = new_context(timezone_id="UTC", **more).new_page()
        page.set_default_timeout(WAIT_MS)
        return Story(page, hand(page), label)

    expect.set_options(timeout=WAIT_MS)
    yield begin
    expect.set_options(timeout=5_000)


def test_a_wound_is_seen_through_by_mouse(story):
    story(Mouse, "Demo story by mouse").walk()


def test_a_wound_is_seen_through_by_keys_alone(story):
    story(Keyboard, "Demo story by keys").walk()


def test_a_wound_is_seen_through_by_touch_on_a_tablet(story):
    story(Finger, "Demo story by touch", has_touch=True, viewport={"width": 820, "height": 1180}).walk()


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ("<button>first</button><button onkeydown='event.preventDefault()'>trap</button><button>last</button>", "trap"),
        ("<button style='outline: none'>hidden</button><button>last</button>", "nothing shows"),
        ("<button style='position: fixed; top: -90px'>away</button><button>last</button>", "out of sight"),
        ("<button>first</button><button tabindex='-1'>last</button>", "does not lead to"),
    ],
)
def test_keys_notice_a_page_that_they_cannot_walk(browser, body, says):
    page = browser.new_page()
    page.set_content(body)
    with pytest.raises((AssertionError, pytest.fail.Exception), match=says):
        Keyboard(page).press(page.get_by_role("button", name="last"))
    page.close()


def test_a_finger_notices_what_is_too_small_for_it(browser):
    page = browser.new_page(has_touch=True)
    page.set_content("<button style='width: 60px; height: 20px; padding: 0'>last</button>")
    with pytest.raises(AssertionError, match="too small for a finger"):
        Finger(page).press(page.get_by_role("button", name="last"))
    page.close()
