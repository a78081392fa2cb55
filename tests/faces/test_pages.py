"""The pages, in a real browser: what stands on them, what they keep, and that everybody can use them."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from soakline.workflows import in_words

PAGES = ["/", "/cases/new", "/about", "/cases/2", "/cases/2/file", "/cases/2/layouts", "/cases/2/day"]
PAGES += ["/cases/closed", "/cases/1", "/cases/1/history", "/cases/2/close", "/nothing-here"]
SIZES = [(820, 1180), (1366, 900)]


def sent(token: str, text: str, **more: str) -> dict[str, tuple[None, str]]:
    return {name: (None, value) for name, value in {"token": token, "text": text, **more}.items()}


def saved(client, address: str, token: str, text: str, version: int):
    return client.post(f"{address}/file", files=sent(token, text, version=str(version)))


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_page_can_be_used_by_everybody(new_context, scheme, width, height):
    context = new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    page = context.new_page()
    found = {}
    for path in PAGES:
        page.goto(path)
        page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
        results = Axe().run(page)
        if results.violations_count:
            found[path] = results.generate_report()
    assert found == {}


@pytest.mark.parametrize("path", PAGES[:-1])
def test_a_page_asks_nothing_of_the_outside_and_weighs_little(page, path):
    bytes_read: list[int] = []
    page.on("response", lambda response: bytes_read.append(len(response.body())))
    page.goto(path)
    page.wait_for_load_state("networkidle")
    assert 0 < sum(bytes_read) < 300_000


@pytest.mark.parametrize("path", PAGES[:-1])
def test_a_page_at_twice_its_size_needs_no_sideways_scrolling(page, path):
    page.set_viewport_size({"width": 410, "height": 590})
    page.goto(path)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("path", PAGES[:-1])
def test_what_is_pressed_is_at_least_44_pixels_high(page, path):
    page.goto(path)
    small = page.evaluate(
        """() => [...document.querySelectorAll('nav a, .button, summary, .cases th a, input[type=file]')]
            .filter((one) => one.getBoundingClientRect().height < 44).map((one) => one.textContent)"""
    )
    assert small == []


def test_the_caution_stands_on_the_first_screen_of_every_page(page):
    for path in PAGES[:-1]:
        page.goto(path)
        expect(page.get_by_text("A draft for review, not an order.")).to_be_in_viewport()


def test_the_list_shows_what_needs_attention_in_words(page, client, token, case_text):
    shut = case_text.replace('malignancy = "no"', "").replace("Demo abdomen", "Demo with a shut gate")
    client.post("/cases", files=sent(token, shut))
    page.goto("/")
    row = page.get_by_role("row").filter(has_text="Demo with a shut gate")
    expect(row).to_contain_text("gate shut: 1 stop not answered for")
    expect(row).to_contain_text("trunk, front")


def test_a_case_shows_its_size_as_a_range_with_the_sum_beside_it(page, kept_case):
    page.goto(kept_case)
    size = page.get_by_role("region", name="The hidden size")
    expect(size).to_contain_text(re.compile(r"about \d+ mL, \d+–\d+"))
    expect(size).to_contain_text("PATIENT'S LEFT")
    size.get_by_text("The same by hand").click()
    expect(size).to_contain_text("= 62.8 cm²")


def test_each_posture_shows_floor_and_roof_side_by_side_and_which_model_may_be_believed(page, kept_case):
    page.goto(kept_case)
    reach = page.get_by_role("region", name="Reach in each posture")
    row = reach.get_by_role("row").filter(has_text="left 30").first
    expect(row.get_by_role("cell")).to_have_count(2)
    expect(row).to_contain_text("or moist:")
    expect(reach).to_contain_text("to find its level, the soak lasts 10 min")
    reach.get_by_text("Liquid against the opening's edge").click()
    expect(reach).to_contain_text("the whole opening taken as vent: supine none; left 30")


def test_what_each_port_does_alone_is_folded_away(page, client, token, case_text):
    second = '[[port]]\nname = "I2"\nkind = "instillation"\nclock = 5\nfrom_edge_cm = 2\nunit = "B"\n[[unit]]'
    both = case_text.replace("[[unit]]", second, 1).replace(
        "[exudate]", '[[unit]]\nname = "B"\nfill_ml = 20\nfill_min = 2\ndwell_min = 8\nsuction_min = 170\n[exudate]'
    )
    kept = client.post("/cases", files=sent(token, both.replace("Demo abdomen", "Demo with two ports")))
    page.goto(str(kept.url.path) if kept.history else kept.headers["location"])
    reach = page.get_by_role("region", name="Reach in each posture")
    expect(reach.get_by_text("80 mL, port I1 + I2, once settled")).to_be_visible()
    expect(reach.get_by_text("20 mL, port I2, once settled")).to_be_hidden()
    reach.get_by_text("20 mL, port I2 alone").click()
    expect(reach.get_by_text("20 mL, port I2, once settled")).to_be_visible()


@pytest.mark.parametrize("part", ["", "/try", "/measure", "/change", "/shift", "/layouts", "/day", "/trouble"])
def test_our_own_words_are_explained_on_each_page_that_uses_them(page, part):
    page.set_default_timeout(60_000)
    page.goto(f"/cases/2{part}")
    shown = re.sub(r"\s+", " ", page.locator("main").inner_text())
    ours = {
        r"\b([Ss]oaked|[Ff]loor|[Rr]oof)\b": in_words.REACH_MEANS,
        r"\b[Mm]oist\b": in_words.MOIST_MEANS,
        r"\b[Pp]assed:": in_words.PASSED_MEANS,
        r"\b[Pp]ocket height": in_words.POCKET_HEIGHT_MEANS,
    }
    used = [word for word in ours if re.search(word, shown)]
    assert [word for word in used if ours[word] not in shown] == []
    assert used or part in {"/shift", "/trouble"}


def test_a_day_without_a_suction_port_is_not_told_and_why(page, kept_case):
    page.goto(f"{kept_case}/day")
    expect(page.get_by_text("No whole day: no suction port in the file")).to_be_visible()


def test_a_day_is_told_zone_by_zone(page, client, token, case_text):
    suction = '[[port]]\nname = "S1"\nkind = "suction"\nclock = 5\nfrom_edge_cm = 2\nunit = "A"\n[[unit]]'
    kept = client.post("/cases", files=sent(token, case_text.replace("[[unit]]", suction, 1)))
    page.goto(str(kept.url.path) if kept.history else kept.headers["location"])
    page.get_by_role("link", name="A whole day of fills and suction").click()
    expect(page.get_by_text("8 fills of 60 mL through I1 in 24 h")).to_be_visible()
    row = page.get_by_role("row").filter(has_text="3 o'clock, deepest third")
    expect(row).to_contain_text(re.compile(r"\d+–\d+ min.*% new"))
    expect(page.locator("figure.map")).to_have_count(2)


def test_posture_and_surface_change_in_place(page, kept_case):
    page.goto(kept_case)
    page.evaluate("window.before = true")
    view = page.locator("#view")
    view.get_by_role("link", name="left 30").click()
    expect(view.get_by_role("link", name="left 30")).to_have_attribute("aria-current", "true")
    expect(view.get_by_role("link", name="left 30")).to_be_focused()
    spread = view.get_by_role("link", name="as it spreads in time")
    spread.click()
    expect(spread).to_have_attribute("aria-current", "true")
    expect(view.get_by_role("link", name="left 30")).to_have_attribute("aria-current", "true")
    view.get_by_role("link", name="roof").click()
    expect(page).to_have_url(re.compile(r"row=4&surface=roof"))
    assert page.evaluate("window.before")
    page.go_back()
    expect(view.get_by_role("link", name="floor")).to_have_attribute("aria-current", "true")
    expect(view.locator("desc")).to_contain_text("left 30")


def test_of_two_quick_choices_the_later_is_shown(page, kept_case):
    page.goto(kept_case)
    held = []
    page.route("**/*row=1*", lambda route, _request: held.append(route))
    view = page.locator("#view")
    view.get_by_role("link", name="left 30").click()
    view.get_by_role("link", name="right 30").click()
    expect(view.get_by_role("link", name="right 30")).to_have_attribute("aria-current", "true")
    with page.expect_response("**/*row=1*"):
        held[0].continue_()
    page.wait_for_load_state("networkidle")
    expect(view.get_by_role("link", name="right 30")).to_have_attribute("aria-current", "true")


def test_posture_changes_without_scripts_too(new_context, kept_case):
    context = new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(kept_case)
    page.locator("#view").get_by_role("link", name="right 30").click()
    expect(page.locator("#view").get_by_role("link", name="right 30")).to_have_attribute("aria-current", "true")


def test_the_way_from_the_list_to_the_card_needs_no_mouse(page, kept_case):
    page.goto("/")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the content")).to_be_focused()
    _tab_to(page, page.locator(f'a[href="{kept_case}"]'))
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(f"{kept_case}$"))
    _tab_to(page, page.get_by_role("link", name="Bedside card"))
    with page.expect_request("**/card.pdf") as asked:
        page.keyboard.press("Enter")
    assert asked.value.method == "GET"


def test_the_card_is_a_pdf(client, kept_case):
    card = client.get(f"{kept_case}/card.pdf")
    assert card.headers["content-type"] == "application/pdf"
    assert card.content.startswith(b"%PDF")


def test_a_shut_gate_shows_findings_and_gate_alone(page, client, token, case_text):
    kept = client.post("/cases", files=sent(token, case_text.replace('malignancy = "no"', "")))
    address = kept.headers["location"]
    page.goto(address)
    expect(page.get_by_role("region", name="Gate")).to_contain_text("malignancy in the wound")
    assert page.locator("main svg[role], #size, #reach, #view").count() == 0
    assert "mL" not in page.locator("main").inner_text()
    refused = client.get(f"{address}/card.pdf")
    assert refused.status_code == 409
    assert "gate is shut" in refused.text


def test_a_new_case_is_kept_and_shown(page, case_text):
    page.goto("/cases/new")
    page.get_by_label("Case file (TOML)").fill(case_text.replace("Demo abdomen", "Demo typed in"))
    page.get_by_role("button", name="Add the case").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Demo typed in")


def test_a_first_call_begins_a_case_and_a_refused_one_stands_as_it_was_told(client, token):
    def begin(**told):
        fields = {"token": token, "label": "Demo call", "time_zone": "Europe/Oslo", "part": "thigh", "face": "back"}
        return client.post("/cases", files={key: (None, value) for key, value in (fields | told).items()})

    answer = begin(limb_side="left", girth_cm="52.5")
    assert answer.status_code == 303
    text = client.get(f"{answer.headers['location']}/case.toml").text
    for line in ('label = "Demo call"', 'part = "thigh"', 'face = "back"', 'limb_side = "left"', "girth_cm = 52.5"):
        assert re.search(f"^{re.escape(line)}", text, re.MULTILINE), line
    assert re.search(r'^time_zone = "Europe/Oslo"', text, re.MULTILINE)
    refused = begin(girth_cm="about 50")
    assert refused.status_code == 422
    assert "girth_cm = &#34;about 50&#34;" in refused.text
    assert "Demo call" in refused.text


def test_the_empty_case_file_needs_a_label_alone_and_keeps_the_gate_shut(page):
    page.goto("/cases/new")
    text = page.get_by_label("Case file (TOML)").input_value()
    page.get_by_label("Case file (TOML)").fill(text.replace('label = ""', 'label = "Demo empty"'))
    page.get_by_role("button", name="Add the case").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Demo empty")
    expect(page.get_by_role("region", name="Gate")).to_contain_text("Shut")


def test_a_file_can_be_sent_instead(page, case_file):
    page.goto("/cases/new")
    page.get_by_label("Or send a case file").set_input_files(case_file)
    page.get_by_role("button", name="Add the case").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Demo abdomen")


def test_a_file_of_no_letters_is_refused_in_words(client, token):
    answer = client.post("/cases", files={"token": (None, token), "file": ("case.toml", b'label = "\xff"')})
    assert answer.status_code == 422
    assert "Not saved: the case file is refused" in answer.text


def test_a_refused_text_stays_as_typed_with_each_finding_and_its_key(client, token, kept_case, case_text):
    typed = case_text.replace("depth_cm = 2.5", "dept_cm = 2.5 # <mine> & só")
    typed = typed.replace("width_cm = 6", 'width_cm = "six"')
    answer = saved(client, kept_case, token, typed, version=1)
    assert answer.status_code == 422
    assert "dept_cm = 2.5 # &lt;mine&gt; &amp; só" in answer.text
    assert "did you mean depth_cm?" in answer.text
    assert "wound.opening.width_cm" in answer.text
    assert client.get(f"{kept_case}/case.toml").text == case_text


def test_a_measure_that_contradicts_another_is_refused_before_it_is_kept(client, token, kept_case, case_text):
    answer = saved(client, kept_case, token, case_text.replace("depth_cm = 2.5", "depth_cm = 0"), version=1)
    assert answer.status_code == 422
    assert "wound.opening.depth_cm" in answer.text


def test_a_saved_text_is_kept_as_it_was_typed(page, client, kept_case, case_text):
    changed = case_text + "\n# measured again tomorrow, <b>ö</b>\n"
    page.goto(f"{kept_case}/file")
    page.get_by_label("Case file (TOML)").fill(changed)
    page.get_by_role("button", name="Save").click()
    expect(page).to_have_url(re.compile(f"{kept_case}$"))
    assert client.get(f"{kept_case}/case.toml").text == changed


def test_who_saves_second_sees_both_texts_and_loses_neither(client, token, kept_case, case_text):
    theirs, mine = case_text + "# theirs\n", case_text + "# mine\n"
    assert saved(client, kept_case, token, theirs, version=1).status_code == 303
    answer = saved(client, kept_case, token, mine, version=1)
    assert answer.status_code == 409
    assert "# mine" in answer.text
    assert "# theirs" in answer.text
    assert client.get(f"{kept_case}/case.toml").text == theirs
    assert saved(client, kept_case, token, mine, version=2).status_code == 303


def test_a_half_known_wound_says_what_to_measure(page, client, token, case_text):
    half = case_text.replace("height_cm = { low = 1.0, likely = 1.5, high = 2.0 }", "")
    kept = client.post("/cases", files=sent(token, half))
    page.goto(kept.headers["location"])
    expect(page.get_by_role("region", name="Measure next")).to_contain_text("pocket height")
    expect(page.get_by_role("region", name="The hidden size")).to_contain_text("no fill volume")


def test_words_from_a_case_file_are_never_markup(page, client, token, case_text):
    label = "<img src=x onerror=alert(1)>"
    kept = client.post("/cases", files=sent(token, case_text.replace("Demo abdomen", label)))
    page.goto(kept.headers["location"])
    expect(page.get_by_role("heading", level=1)).to_have_text(label)
    page.goto("/")
    expect(page.get_by_role("link", name=label)).to_be_visible()


def test_the_sources_say_how_far_each_value_was_checked(page):
    page.goto("/about")
    row = page.get_by_role("row").filter(has=page.get_by_text("gate.fda", exact=True))
    expect(row).to_contain_text("read in the source")


def test_the_chart_is_an_image_with_words_beside_it(page, kept_case):
    page.goto(kept_case)
    chart = page.locator("#view img")
    assert chart.evaluate("(image) => image.decode().then(() => image.naturalWidth > 0)")
    assert "floor soaked: half from about" in chart.get_attribute("alt")


def _tab_to(page, target):
    for _ in range(400):
        page.keyboard.press("Tab")
        if target.evaluate("(one) => one === document.activeElement"):
            return
    pytest.fail(f"{target} is not reached by Tab")


OVERRIDE = """
[[gate.answered]]
stop = "exposed_organs"
by_role = "surgeon"
reason = "covered by a contact layer"
at = 2026-11-20T13:00:00
"""


def test_a_save_that_takes_an_override_out_is_refused_and_one_that_adds_to_it_is_not(client, token, case_text):
    def send(address, text, **more):
        fields = {"token": token, "version": "1", "text": text} | more
        return client.post(address, files={key: (None, value) for key, value in fields.items()})

    with_override = case_text.replace('exposed_organs = "no"', 'exposed_organs = "yes"') + OVERRIDE
    address = send("/cases", with_override).headers["location"]
    refused = send(f"{address}/file", case_text)
    assert refused.status_code == 422
    assert "such an answer stays" in refused.text
    assert "covered by a contact layer" in client.get(f"{address}/case.toml").text
    assert send(f"{address}/file", with_override.replace("Demo abdomen", "Demo front")).status_code == 303
    more = with_override + OVERRIDE.replace("covered by a contact layer", "seen again")
    assert send(f"{address}/file", more, version="2").status_code == 303
    shown = client.get(address).text
    assert shown.index("seen again") < shown.index("before that surgeon: covered by a contact layer")


def test_the_next_day_stands_on_the_page_and_its_changes_are_a_calendar_file(client, kept_case):
    assert "The next 24 hours" in client.get(kept_case).text
    answer = client.get(f"{kept_case}/changes.ics")
    assert answer.headers["content-type"].startswith("text/calendar")
    assert "BEGIN:VEVENT" in answer.text
    assert "DTSTART:2026" in answer.text
