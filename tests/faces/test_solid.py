"""A fill played out on the map and in three dimensions, in a real browser, with WebGL2 and without."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

SLOW_MS = 60_000


@pytest.fixture
def tried(page, kept_case):
    page.goto(f"{kept_case}/try")
    expect(page.locator("#reach td").first).to_have_text(re.compile("all|most|half|third|little|none"), timeout=SLOW_MS)
    return page


def opened(page):
    page.locator("#solid summary").click()
    expect(page.locator("#solid-shows")).to_contain_text("Shown: ", timeout=SLOW_MS)
    expect(page.locator(".stage")).to_have_attribute("data-painter", re.compile("."))
    return page.locator(".stage")


def seen(page):
    """The stage as it stands on the screen, once two pictures of it agree."""
    stage = page.locator(".stage")
    before = stage.screenshot()
    for _ in range(20):
        page.wait_for_timeout(100)
        now = stage.screenshot()
        if now == before:
            return now
        before = now
    return before


def soaked_path(page):
    return page.locator(".board path[fill*=soaked]").get_attribute("d")


def at(page, moment):
    page.locator("#moment").fill(str(moment))
    expect(page.locator("#moment-says")).to_contain_text(re.compile("^(fill|dwell|suction), "), timeout=SLOW_MS)


def test_the_map_shows_what_is_soaked_at_the_moment_that_the_scrubber_names(tried):
    at(tried, 0)
    expect(tried.locator("#moment-says")).to_have_text(re.compile("^fill, 0 s: floor soaked none"))
    assert soaked_path(tried) == ""
    at(tried, 36)
    expect(tried.locator("#moment-says")).to_have_text(re.compile("^dwell, 8 min: "))
    assert soaked_path(tried).startswith("M")
    tried.get_by_role("button", name="Back to the whole answer").click()
    expect(tried.locator("#key")).not_to_contain_text("At this moment")


def test_playing_changes_the_map_and_ends_by_itself(tried):
    at(tried, 2)
    early = soaked_path(tried)
    button = tried.locator("#play-button")
    button.focus()
    tried.keyboard.press("Enter")
    expect(button).to_have_text("Pause")
    expect(button).to_have_text("Play fill, dwell and suction", timeout=SLOW_MS)
    assert tried.locator("#moment").input_value() == "36"
    assert soaked_path(tried) != early


def test_suction_is_played_once_a_suction_port_is_there(tried):
    at(tried, 36)
    expect(tried.locator("#moment")).to_have_attribute("max", "36")
    tried.get_by_role("button", name="Add suction port").click()
    expect(tried.locator("#moment")).to_have_attribute("max", "44", timeout=SLOW_MS)
    at(tried, 44)
    expect(tried.locator("#moment-says")).to_contain_text("suction, all drawn: floor soaked none", timeout=SLOW_MS)
    expect(tried.locator("#key")).to_contain_text("exploratory")
    assert soaked_path(tried) == ""


def test_where_motion_is_unwanted_playing_goes_by_steps(tried):
    tried.emulate_media(reduced_motion="reduce")
    button = tried.get_by_role("button", name="Step through fill, dwell and suction")
    at(tried, 3)
    button.click()
    assert tried.locator("#moment").input_value() == "4"
    tried.wait_for_timeout(600)
    assert tried.locator("#moment").input_value() == "4"


def test_a_moved_port_makes_the_moments_anew(tried):
    at(tried, 6)
    before = soaked_path(tried)
    tried.get_by_role("slider", name=re.compile("Port I1,")).focus()
    for _ in range(4):
        tried.keyboard.press("ArrowLeft")
    expect(tried.locator(".board path[fill*=soaked]")).not_to_have_attribute("d", before, timeout=SLOW_MS)
    expect(tried.locator("#key")).to_contain_text("At this moment", timeout=SLOW_MS)


def test_the_cavity_is_drawn_and_turns_by_keys_and_buttons(tried):
    stage = opened(tried)
    assert stage.get_attribute("data-painter") == "webgl2"
    first = seen(tried)
    stage.focus()
    tried.keyboard.press("ArrowLeft")
    tried.keyboard.press("ArrowDown")
    turned = seen(tried)
    assert turned != first
    tried.get_by_role("button", name="First view").click()
    tried.get_by_role("button", name="Turn left").click()
    assert seen(tried) not in (first, turned)


def test_the_solid_is_told_in_words_too(tried):
    opened(tried)
    expect(tried.locator("#solid-says")).to_contain_text("Pocket from 12 o'clock through 3 o'clock to 6 o'clock")
    expect(tried.locator("#solid-shows")).to_contain_text("lying: supine")
    tried.get_by_label("left 30").check()
    expect(tried.locator("#solid-shows")).to_contain_text("lying: left 30", timeout=SLOW_MS)


def drawn_colours(page, canvas):
    """How many points of a canvas bear colour, and how many colours there are, just after painting it."""
    return page.evaluate(
        """(name) => new Promise((done) => {
            document.querySelector('[data-turn="15 0"]').click();
            requestAnimationFrame(() => {
                const from = document.querySelector(`.stage .${name}`);
                const copy = document.createElement("canvas");
                Object.assign(copy, { width: from.width, height: from.height });
                const pen = copy.getContext("2d");
                pen.drawImage(from, 0, 0);
                const all = new Uint32Array(pen.getImageData(0, 0, from.width, from.height).data.buffer);
                done([all.filter((one) => one).length / all.length, new Set(all).size]);
            });
        })""",
        canvas,
    )


def test_webgl_draws_the_cavity(new_context, kept_case):
    page = new_context().new_page()
    page.goto(f"{kept_case}/try")
    opened(page)
    share, colours = drawn_colours(page, "deep")
    assert share > 0.03
    assert colours > 20
    page.close()


def test_where_webgl_is_missing_the_painter_draws(new_context, kept_case):
    page = new_context().new_page()
    page.add_init_script(
        """const asked = HTMLCanvasElement.prototype.getContext;
        HTMLCanvasElement.prototype.getContext = function (kind, ...more) {
            return kind === "webgl2" ? null : asked.call(this, kind, ...more);
        };"""
    )
    page.goto(f"{kept_case}/try")
    assert opened(page).get_attribute("data-painter") == "2d"
    expect(page.locator("#solid .key")).to_contain_text("Paler colour: moist.")
    share, colours = drawn_colours(page, "flat")
    assert share > 0.03
    assert colours > 20
    page.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [820, 1366])
def test_the_solid_can_be_used_by_everybody(new_context, kept_case, scheme, width):
    context = new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    sizes: dict[str, int] = {}
    page.on("response", lambda answer: sizes.update({answer.url: answer.request.sizes()["responseBodySize"]}))
    page.goto(f"{kept_case}/try")
    assert not any(url.endswith("/solid") for url in sizes)
    opened(page)
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert all(size < 100_000 for url, size in sizes.items() if url.endswith(("/solid", "/frames")))
    assert sum(sizes.values()) < 300_000
    heights = page.eval_on_selector_all(
        "#play button:not([hidden]), #play summary, #play input",
        "all => all.map(one => one.getBoundingClientRect().height)",
    )
    assert min(heights) >= 43.5
