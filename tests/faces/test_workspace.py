"""The workspace in a real browser: ports moved by hand, by keys, by typing; the answer, the way back, taking over."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect


@pytest.fixture
def tried(page, kept_case):
    """The workspace of a case of its own, its first answer on it."""
    page.goto(f"{kept_case}/try")
    answered(page)
    return page


def answered(page):
    expect(page.locator("#reach td").first).to_have_text(re.compile("all|most|half|third|little|none"))


def ranged(page):
    expect(page.locator("#reach td").first).to_have_text(re.compile("%"))
    expect(page.locator("#key")).to_contain_text("plausible wounds", timeout=15_000)


def handle(page, name):
    return page.get_by_role("slider", name=re.compile(f"Port {name},"))


def hour(page, name):
    return float(page.get_by_label(f"Hour of port {name}").input_value())


def drawn(page):
    return [page.locator(f".board path[fill*={kind}]").get_attribute("d") for kind in ("soaked", "second")]


def drag(page, name, dx, dy):
    box = handle(page, name).locator(".grip").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx / 2, y + dy / 2)
    page.mouse.move(x + dx, y + dy)
    page.mouse.up()


def test_the_pieces_of_foam_go_along_with_their_port(tried):
    foam = tried.locator(".board .foam")
    before = foam.get_attribute("d")
    assert before.count("M") == 1
    drag(tried, "I1", -60, -60)
    expect(foam).not_to_have_attribute("d", before)
    tried.get_by_label("Distance of port I1 from the edge in cm").fill("-1")
    tried.keyboard.press("Tab")
    # Over the opening it lies in the foam of the opening.
    expect(foam).to_have_attribute("d", "")


def test_what_is_not_meant_yet_is_not_shown(tried):
    expect(tried.get_by_role("button", name="Back to the whole answer")).to_be_hidden()


def test_a_port_dragged_across_the_pocket_changes_what_is_reached_and_its_zone(tried):
    tried.get_by_label("Fill of unit A in mL", exact=True).fill("15")
    tried.keyboard.press("Tab")
    expect(tried.locator("#status")).to_contain_text("15 mL")
    before = drawn(tried)
    zone = tried.locator("#ports .zone").first.inner_text()
    drag(tried, "I1", -60, -60)
    expect(tried.locator("#ports .zone").first).not_to_have_text(zone)
    assert drawn(tried) != before
    assert hour(tried, "I1") != 3.0


def test_arrow_keys_move_a_port_and_undo_brings_it_back(tried):
    handle(tried, "I1").focus()
    tried.keyboard.press("ArrowRight")
    tried.keyboard.press("ArrowDown")
    assert hour(tried, "I1") == 3.5
    assert tried.get_by_label("Distance of port I1").input_value() == "2.5"
    tried.keyboard.press("Control+z")
    tried.keyboard.press("Control+z")
    assert hour(tried, "I1") == 3.0
    expect(tried.get_by_role("button", name="Undo")).to_be_disabled()
    tried.get_by_role("button", name="Redo").click()
    assert hour(tried, "I1") == 3.5


def test_a_port_cannot_leave_the_wound_by_hand_or_by_typing(tried):
    drag(tried, "I1", 900, 0)
    assert float(tried.get_by_label("Distance of port I1").input_value()) == 4.0
    tried.get_by_label("Hour of port I1").fill("9")
    tried.keyboard.press("Tab")
    assert float(tried.get_by_label("Distance of port I1").input_value()) == 0.0


def test_ranges_follow_when_the_hand_rests(tried):
    ranged(tried)
    expect(tried.locator("#reach td").first).to_have_text(re.compile(r"\d+–\d+ %"))


def test_a_smaller_fill_reaches_less_and_the_words_say_so(tried):
    said = tried.locator("#reach td").first
    ranged(tried)
    before = said.inner_text()
    tried.get_by_label("Fill of unit A in mL", exact=True).fill("5")
    expect(tried.locator("#status")).to_contain_text("5 mL through I1")
    expect(said).not_to_have_text(before)


def test_two_layouts_stand_side_by_side(tried):
    tried.get_by_role("button", name="Hold for comparison").click()
    tried.get_by_label("once settled").check()
    expect(tried.locator("#held-map svg")).to_be_visible()
    expect(tried.locator("#reach .held th")).to_have_text("Held")
    assert tried.evaluate("new Set([...document.querySelectorAll('[id]')].map((e) => e.id)).size") == tried.evaluate(
        "document.querySelectorAll('[id]').length"
    )


def test_nothing_pours_is_an_answer_in_words(tried):
    tried.get_by_label("Port I1 pours").uncheck()
    expect(tried.locator("#status")).to_contain_text("no fill goes in")


def test_what_was_moved_outlives_a_reload_and_is_taken_over_into_the_case_file(tried):
    handle(tried, "I1").focus()
    tried.keyboard.press("ArrowRight")
    tried.reload()
    answered(tried)
    expect(tried.locator("#draft")).to_be_visible()
    assert hour(tried, "I1") == 3.5
    tried.get_by_role("button", name="Add suction port").click()
    tried.get_by_role("button", name="Take over into the case file").click()
    tried.wait_for_url(re.compile(r"/cases/\d+$"))
    tried.goto(f"{tried.url}/file")
    text = tried.locator("#text").input_value()
    assert "clock = 3.5" in text
    assert 'kind = "suction"' in text


def test_the_page_with_a_lost_application_keeps_what_was_moved_and_asks_again(new_context, kept_case):
    # A browser of its own: it complains about the lost answer, as it should.
    tried = new_context().new_page()
    tried.goto(f"{kept_case}/try")
    answered(tried)
    tried.route("**/try", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    handle(tried, "I1").focus()
    tried.keyboard.press("ArrowRight")
    expect(tried.locator("#status")).to_contain_text("kept in this browser")
    tried.unroute("**/try")
    expect(tried.locator("#status")).to_contain_text("mL through I1", timeout=5_000)
    tried.close()


def test_a_save_by_somebody_else_shows_both_texts(new_context, kept_case):
    # A browser of its own: it notes the refused save, as it should.
    tried = new_context().new_page()
    tried.goto(f"{kept_case}/try")
    answered(tried)
    handle(tried, "I1").focus()
    tried.keyboard.press("ArrowRight")
    other = new_context().new_page()
    other.goto(f"{kept_case}/file")
    other.locator("#text").fill(other.locator("#text").input_value().replace("Demo abdomen", "Demo abdomen, changed"))
    other.get_by_role("button", name="Save").click()
    tried.get_by_role("button", name="Take over into the case file").click()
    expect(tried.get_by_role("alert")).to_contain_text("somebody else was first")
    assert "clock = 3.5" in tried.locator("#text").input_value()
    other.close()
    tried.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(820, 1180), (1366, 900)])
def test_the_workspace_can_be_used_by_everybody(new_context, kept_case, scheme, width, height):
    context = new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    page = context.new_page()
    bytes_read: list[int] = []
    page.on("response", lambda response: bytes_read.append(len(response.body())))
    page.goto(f"{kept_case}/try")
    ranged(page)
    page.get_by_role("button", name="Hold for comparison").click()
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()
    assert sum(bytes_read) < 300_000
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small = page.evaluate(
        """() => [...document.querySelectorAll('.button, fieldset label, .grip, #main input[type=number], select')]
            .filter((one) => one.checkVisibility() && one.getBoundingClientRect().height < 43.5)
            .map((one) => one.outerHTML)"""
    )
    assert small == []
