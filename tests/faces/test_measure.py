"""The dial in a real browser: hours dragged, stepped and typed; the cavity told at once; the call by phone."""

import json
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

WAIT = 20_000
TOLD = re.compile(r"about \d+ mL, \d+–\d+; [\d.]+ times the opening; to the PATIENT'S LEFT")


@pytest.fixture
def measured(page, kept_case):
    """The dial of a case of its own."""
    page.goto(f"{kept_case}/measure")
    expect(page.locator("#says")).to_have_text(TOLD, timeout=WAIT)
    return page


def hour(page, clock):
    return page.get_by_role("slider", name=f"Reach at {clock} o'clock, cm")


def reach(page, clock):
    return page.get_by_label(f"Reach in cm at {clock} o'clock").input_value()


def probe(page, clock):
    return page.get_by_label(f"Probe at {clock} o'clock")


def drag_out(page, clock, by_px):
    box = hour(page, clock).locator(".point").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by_px[0] / 2, y + by_px[1] / 2)
    page.mouse.move(x + by_px[0], y + by_px[1])
    page.mouse.up()


def take_over(page):
    page.get_by_role("button", name="Take over into the case file").click()
    page.wait_for_url(re.compile(r"/cases/\d+$"), timeout=60_000)
    page.goto(f"{page.url}/file")
    return page.locator("#text").input_value()


def add_case(client, token, text):
    answer = client.post("/cases", files={"token": (None, token), "text": (None, text)})
    assert answer.status_code == 303
    return answer.headers["location"]


def test_an_hour_dragged_out_along_its_ray_makes_the_cavity_larger_at_once(measured):
    before = measured.locator("#says").inner_text()
    drag_out(measured, 3, (60, 0))
    assert float(reach(measured, 3)) > 4.0
    expect(measured.locator("#says")).not_to_have_text(before, timeout=WAIT)
    expect(measured.locator(".dial")).to_contain_text("4 cm")


def test_an_hour_dragged_to_the_edge_was_probed_and_none_found(measured):
    drag_out(measured, 3, (-300, 0))
    expect(probe(measured, 3)).to_have_value("none found")


def test_a_touch_without_a_move_measures_nothing(measured):
    hour(measured, 9).locator(".point").click()
    expect(probe(measured, 9)).to_have_value("none found")
    expect(measured.get_by_role("button", name="Undo")).to_be_disabled()


def test_arrow_keys_set_the_reach_and_undo_brings_it_back(measured):
    hour(measured, 8).focus()
    measured.keyboard.press("ArrowUp")
    measured.keyboard.press("ArrowUp")
    assert (reach(measured, 8), probe(measured, 8).input_value()) == ("1", "undermined")
    expect(hour(measured, 8)).to_be_focused()
    measured.keyboard.press("Delete")
    assert probe(measured, 8).input_value() == "not probed"
    measured.keyboard.press("n")
    assert probe(measured, 8).input_value() == "none found"
    measured.keyboard.press("Control+z")
    measured.keyboard.press("Control+z")
    assert reach(measured, 8) == "1"
    measured.keyboard.press("Control+Shift+z")
    assert probe(measured, 8).input_value() == "not probed"


def test_the_three_states_of_an_hour_look_different(measured):
    probe(measured, 9).select_option("not probed")
    looks = [
        hour(measured, clock)
        .locator(".point")
        .evaluate("(one) => [getComputedStyle(one).fill, getComputedStyle(one).strokeDasharray].join()")
        for clock in (3, 8, 9)
    ]
    assert len(set(looks)) == 3
    expect(measured.locator(".dial svg").first).to_contain_text("not probed", timeout=WAIT)


def test_a_typed_reach_and_height_are_told_at_once_and_taken_over(measured):
    before = measured.locator("#says").inner_text()
    measured.get_by_label("Pocket height likely, cm, 12 to 6 o'clock").fill("1.8")
    measured.keyboard.press("Tab")
    expect(measured.locator("#says")).not_to_have_text(before, timeout=WAIT)
    measured.get_by_label("Reach in cm at 3 o'clock").fill("5")
    measured.keyboard.press("Tab")
    text = take_over(measured)
    assert "likely = 1.8" in text
    assert "to = 2.5" in text
    assert "clock = 3\nreach_cm = 5" in text
    assert "from = 3.5\nto = 6" in text


def test_what_cannot_be_is_refused_by_field_in_words_and_nothing_typed_is_lost(measured):
    measured.get_by_label("Reach in cm at 3 o'clock").fill("65")
    measured.keyboard.press("Tab")
    expect(measured.locator("#findings")).to_contain_text("at 3 o'clock, reach: 65 cm is larger", timeout=WAIT)
    expect(measured.locator("#says")).to_have_text("Refused: see what was found.")
    assert reach(measured, 3) == "65"
    measured.get_by_role("button", name="Undo").click()
    expect(measured.locator("#says")).to_have_text(TOLD, timeout=WAIT)
    measured.get_by_label("Pocket height low, cm, 12 to 6 o'clock").fill("3")
    measured.keyboard.press("Tab")
    expect(measured.locator("#findings")).to_contain_text("low, likely and high go upwards", timeout=WAIT)


def test_a_girth_is_told_at_once_refused_at_its_field_and_taken_over(measured):
    girth = measured.get_by_label("girth of the trunk at the opening, cm")
    expect(girth).to_have_value("104")
    girth.fill("12")
    measured.keyboard.press("Tab")
    expect(measured.locator("#findings")).to_contain_text("girth: 12 cm", timeout=WAIT)
    girth.fill("88.5")
    measured.keyboard.press("Tab")
    expect(measured.locator("#says")).to_have_text(TOLD, timeout=WAIT)
    text = take_over(measured)
    assert "girth_cm = 88.5" in text
    assert "length_cm = 6\n" in text


def test_a_girth_that_was_not_measured_is_left_out(measured):
    measured.get_by_label("girth of the trunk at the opening, cm").fill("")
    measured.keyboard.press("Tab")
    expect(measured.locator("#findings")).to_contain_text("girth: not measured", timeout=WAIT)
    assert "girth_cm" not in take_over(measured)


def test_a_draft_that_was_kept_before_girth_was_asked_leaves_it_as_it_is(measured):
    hour(measured, 8).focus()
    measured.keyboard.press("ArrowUp")
    measured.evaluate(
        """() => {
            const key = Object.keys(localStorage).find((one) => one.startsWith("soakline-measure-"));
            const { girth_cm, ...draft } = JSON.parse(localStorage.getItem(key));
            localStorage.setItem(key, JSON.stringify(draft));
        }"""
    )
    measured.reload()
    expect(measured.locator("#draft")).to_be_visible()
    expect(measured.get_by_label("girth of the trunk at the opening, cm")).to_have_value("104")
    assert "girth_cm = 104" in take_over(measured)


def test_a_height_left_out_asks_for_it_first(measured):
    for end in ("low", "likely", "high"):
        measured.get_by_label(f"Pocket height {end}, cm, 12 to 6 o'clock").fill("")
    measured.keyboard.press("Tab")
    expect(measured.locator("#next")).to_contain_text("pocket height from 12 to 6 o'clock", timeout=WAIT)
    expect(measured.locator("#says")).to_contain_text("between")


def test_a_part_of_a_stretch_takes_a_height_of_its_own(measured):
    measured.get_by_label("Part from hour").select_option("2")
    measured.get_by_label("Part to hour").select_option("3")
    measured.get_by_role("button", name="Give it a height of its own").click()
    likely = measured.get_by_label("Pocket height likely, cm, 2 to 3 o'clock")
    assert likely.input_value() == ""
    likely.fill("0.8")
    measured.keyboard.press("Tab")
    expect(measured.get_by_label("Pocket height likely, cm, 4 to 6 o'clock")).to_have_value("1.5")
    expect(measured.locator("#says")).to_have_text(TOLD, timeout=WAIT)


def test_rows_of_tunnels_and_structures_are_taken_over(measured):
    measured.get_by_role("button", name="Add tunnel").click()
    for name, value in (("hour", "5"), ("length, cm", "6"), ("width across, cm", "1")):
        measured.get_by_label(f"Tunnel 1, {name}").fill(value)
    measured.get_by_role("button", name="Add structure").click()
    measured.get_by_label("Structure 1, what").fill("bowel under mesh")
    measured.get_by_label("Structure 1, hour").fill("9")
    measured.keyboard.press("Tab")
    expect(measured.locator(".dial")).to_contain_text("bowel under", timeout=WAIT)
    text = take_over(measured)
    assert "[[wound.tunnel]]" in text
    assert 'what = "bowel under mesh"' in text


def test_a_draft_outlives_a_reload(measured):
    hour(measured, 8).focus()
    measured.keyboard.press("ArrowUp")
    measured.reload()
    expect(measured.locator("#draft")).to_be_visible()
    assert reach(measured, 8) == "0.5"


def test_a_lost_application_is_said_and_asked_again(new_context, kept_case):
    # A browser of its own: it complains about the lost answer, as it should.
    page = new_context().new_page()
    page.goto(f"{kept_case}/measure")
    page.route("**/measure", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    hour(page, 8).focus()
    page.keyboard.press("ArrowUp")
    expect(page.locator("#says")).to_contain_text("kept in this browser", timeout=WAIT)
    page.unroute("**/measure")
    expect(page.locator("#says")).to_contain_text("times the opening", timeout=WAIT)
    page.close()


def test_a_save_by_somebody_else_shows_both_texts(new_context, kept_case):
    # A browser of its own: it notes the refused save, as it should.
    page = new_context().new_page()
    page.goto(f"{kept_case}/measure")
    hour(page, 3).focus()
    page.keyboard.press("ArrowUp")
    other = new_context().new_page()
    other.goto(f"{kept_case}/file")
    other.locator("#text").fill(other.locator("#text").input_value().replace("Demo abdomen", "Demo abdomen, changed"))
    other.get_by_role("button", name="Save").click()
    page.get_by_role("button", name="Take over into the case file").click()
    expect(page.get_by_role("alert")).to_contain_text("somebody else was first", timeout=WAIT)
    assert "reach_cm = 4.5" in page.locator("#text").input_value()
    other.close()
    page.close()


def test_what_the_dial_cannot_show_is_said_and_stays(page, client, token, case_text):
    tapered = case_text.replace("reach_cm = 4\n", 'reach_cm = 4\nends = "taper"\n')
    page.goto(f"{add_case(client, token, tapered)}/measure")
    expect(page.locator(".kept")).to_contain_text("from 12 to 6 o'clock: it tapers")
    expect(page.get_by_label("Reach in cm at 3 o'clock")).to_be_disabled()
    hour(page, 3).focus()
    page.keyboard.press("ArrowUp")
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()
    assert 'ends = "taper"' in take_over(page)


def test_a_case_of_face_and_part_alone_begins_on_the_dial_and_a_shut_gate_tells_no_volume(page, client, token):
    text = 'format = "soakline-case/1"\nlabel = "New"\n[wound]\nface = "back"\npart = "trunk"\n'
    address = add_case(client, token, text)
    page.goto(address)
    page.get_by_role("link", name="Measure", exact=True).click()
    expect(page.locator("#dial")).to_contain_text("once the opening has a length and a width")
    for name, value in (("length, 12", "6"), ("width, 9", "4"), ("depth", "2")):
        page.get_by_label(re.compile(f"^{name}")).fill(value)
    page.keyboard.press("Tab")
    expect(page.locator("#says")).to_contain_text("no volume while the gate is shut", timeout=WAIT)
    expect(hour(page, 12)).to_be_attached()
    expect(page.locator("#gate")).to_be_visible()
    assert "length_cm = 6" in take_over(page)


def test_by_phone_each_answer_is_read_back_before_it_is_kept_and_the_call_is_printed(page, kept_case):
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{kept_case}/measure")
    expect(page.locator("#ask")).to_contain_text("How long is the opening")
    expect(page.locator("#form")).to_be_hidden()
    page.locator("#answers input").fill("6.5")
    page.get_by_role("button", name="Read back").click()
    expect(page.locator("#readback")).to_have_text("length of the opening: 6.5 cm (six point five)")
    expect(page.locator("#told")).to_contain_text("length: 6 cm")
    page.get_by_role("button", name="Ask again").click()
    page.get_by_role("button", name="Read back").click()
    page.get_by_role("button", name="They heard the same: keep").click()
    expect(page.locator("#told")).to_contain_text("length: 6.5 cm")
    while not page.locator("#ask").inner_text().startswith("Who gives"):
        page.get_by_role("button", name="Leave as it is").click()
    for words in ("A. Demo, wound nurse", "B. Demo, ward nurse", "18:00, ward telephone"):
        page.locator("#answers input").fill(words)
        page.keyboard.press("Enter")
        page.get_by_role("button", name="They heard the same: keep").click()
    page.emulate_media(media="print")
    sheet = page.locator("#sheet")
    expect(sheet).to_contain_text("Advice given without examining the patient")
    for words in ("Advice given by: A. Demo", "Taken over by: B. Demo", "Call back: 18:00"):
        expect(sheet).to_contain_text(words)
    expect(page.locator("#phone")).to_be_hidden()
    page.emulate_media(media="screen")
    assert "Demo, wound nurse" not in take_over(page)


def test_what_is_sent_crooked_is_refused_and_not_kept(client, token, kept_case):
    nothing = {"low": None, "likely": None, "high": None}
    found = {"found": "none found", "reach_cm": nothing, "height_cm": nothing, "basis": "measured", "covers": "whole"}
    sent = {"girth_cm": None, "length_cm": nothing, "width_cm": nothing, "depth_cm": nothing, "hours": [found] * 11}
    sent |= {"tunnel": [], "keep_clear": []}
    assert client.post(f"{kept_case}/measure", json=sent).status_code == 422
    form = {"token": (None, token), "version": (None, "1"), "measures": (None, json.dumps(sent))}
    assert client.post(f"{kept_case}/measure/keep", files=form).status_code == 400
    form["token"] = (None, "another")
    assert client.post(f"{kept_case}/measure/keep", files=form).status_code == 403


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (820, 1180), (1366, 900)])
def test_the_dial_can_be_used_by_everybody(new_context, kept_case, scheme, width, height):
    context = new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    page = context.new_page()
    bytes_read: list[int] = []
    page.on("response", lambda response: bytes_read.append(len(response.body())))
    page.goto(f"{kept_case}/measure")
    expect(page.locator("#says")).to_have_text(TOLD, timeout=WAIT)
    for by_phone in ("true", "false"):
        if page.locator("#mode").get_attribute("aria-pressed") != by_phone:
            page.locator("#mode").click()
        if by_phone == "false":
            page.get_by_role("button", name="Add tunnel").click()
            page.get_by_role("button", name="Add structure").click()
        results = Axe().run(page)
        assert results.violations_count == 0, results.generate_report()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        small = page.evaluate(
            """() => [...document.querySelectorAll('.button, summary, .wedge, #main input, #main select')]
                .filter((one) => one.checkVisibility() && one.type !== 'hidden')
                .filter((one) => one.getBoundingClientRect().height < 43.5).map((one) => one.outerHTML)"""
        )
        assert small == []
    assert sum(bytes_read) < 300_000


def three_dimensions(page):
    page.locator("#solid summary").click()
    expect(page.locator("#solid-shows")).to_contain_text("Likely values; ", timeout=WAIT)
    return page.locator(".stage")


def test_the_cavity_is_seen_in_three_dimensions_as_it_is_measured(measured):
    stage = three_dimensions(measured)
    expect(stage).to_have_attribute("data-painter", re.compile("webgl2|2d"))
    expect(measured.locator("#solid-says")).to_contain_text("PATIENT'S LEFT")
    before = stage.screenshot()
    with measured.expect_response(re.compile("/measure/solid$")):
        hour(measured, 9).focus()
        for _ in range(6):
            measured.keyboard.press("ArrowUp")
    measured.wait_for_timeout(300)
    assert stage.screenshot() != before
    stage.focus()
    turned = stage.screenshot()
    measured.keyboard.press("ArrowLeft")
    measured.wait_for_timeout(200)
    assert stage.screenshot() != turned
    results = Axe().run(measured)
    assert results.violations_count == 0, results.generate_report()


def test_what_three_dimensions_lack_is_said_and_the_shape_before_stays(measured):
    three_dimensions(measured)
    measured.get_by_label("depth, skin straight to the bed, cm").fill("")
    measured.keyboard.press("Tab")
    expect(measured.locator("#solid-shows")).to_have_text(
        "Not drawn yet: measure depth and every pocket height, if only as a range. Shown is the shape before.",
        timeout=WAIT,
    )
    expect(measured.locator(".stage")).to_have_class(re.compile("before"))


def test_without_a_girth_three_dimensions_are_flat_and_say_so(page, client, token, case_text):
    page.goto(f"{add_case(client, token, re.sub(r'girth_cm.*', '', case_text))}/measure")
    page.locator("#solid summary").click()
    expect(page.locator("#solid-shows")).to_contain_text("drawn flat, since the girth is not measured", timeout=WAIT)


def test_a_shut_gate_keeps_three_dimensions_back(page, client, token, case_text):
    shut = case_text.replace('exposed_nerves = "no"', 'exposed_nerves = "yes"')
    page.goto(f"{add_case(client, token, shut)}/measure")
    page.locator("#solid summary").click()
    expect(page.locator("#solid-shows")).to_have_text("Not drawn while the gate is shut.", timeout=WAIT)
