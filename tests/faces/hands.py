"""Three hands that walk the same story over the pages: with the mouse, with the keyboard alone, with a finger."""

from __future__ import annotations

from datetime import datetime
from typing import Protocol

import pytest
from playwright.sync_api import Locator, Page, expect

# A field of day and time has a stop for each of its parts: day, month, year, hour, minute, half of the day, picker.
_MOST_STOPS_IN_A_FIELD = 8
_MOST_STOPS_ON_A_PAGE = 300
_STEPS_OF_A_DRAG = 5
# The smallest target for a finger by the accessibility guidelines (WCAG 2.2, 2.5.8).
_SMALLEST_TARGET_PX = 24


class Hand(Protocol):
    """What a person does to a page, whatever they do it with."""

    def press(self, target: Locator) -> None:
        """Press a button or follow a link."""
        ...

    def tick(self, target: Locator) -> None:
        """Choose one of several, or tick a box."""
        ...

    def pick(self, target: Locator, option: str) -> None:
        """Pick an option of a list."""
        ...

    def write(self, target: Locator, words: str) -> None:
        """Write into a field in place of what it holds."""
        ...

    def write_time(self, target: Locator, moment: datetime) -> None:
        """Write a day and a time."""
        ...

    def pull(self, handle: Locator, across_px: int, down_px: int, keys: list[str]) -> None:
        """Pull a point of a picture so far, or by these keys where no pointer is at hand."""
        ...


class Mouse:
    """A mouse, and a keyboard for what has to be written."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def press(self, target: Locator) -> None:
        target.click()

    def tick(self, target: Locator) -> None:
        target.click()
        expect(target).to_be_checked()

    def pick(self, target: Locator, option: str) -> None:
        target.select_option(option)

    def write(self, target: Locator, words: str) -> None:
        target.click(click_count=3)
        self.page.keyboard.press("Control+a")
        _put(self.page, words)
        expect(target).to_have_value(words)

    def write_time(self, target: Locator, moment: datetime) -> None:
        target.fill(f"{moment:%Y-%m-%dT%H:%M}")

    def pull(self, handle: Locator, across_px: int, down_px: int, keys: list[str]) -> None:
        del keys
        x, y = _middle(handle)
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        for dx, dy in _way(across_px, down_px):
            self.page.mouse.move(x + dx, y + dy)
        self.page.mouse.up()


class Keyboard:
    """Keys alone: Tab leads everywhere and away again, and the eye always finds where it is."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def press(self, target: Locator) -> None:
        self._go_to(target)
        self.page.keyboard.press("Enter")

    def tick(self, target: Locator) -> None:
        self._go_to(target)
        if target.get_attribute("type") == "radio" and not self._is_at(target):
            for _ in range(target.evaluate("(one) => document.getElementsByName(one.name).length")):
                self.page.keyboard.press("ArrowDown")
                if self._is_at(target):
                    break
        if not target.is_checked():
            self.page.keyboard.press("Space")
        expect(target).to_be_checked()

    def pick(self, target: Locator, option: str) -> None:
        self._go_to(target)
        self.page.keyboard.type(option)
        expect(target).to_have_value(option)

    def write(self, target: Locator, words: str) -> None:
        self._go_to(target)
        self.page.keyboard.press("Control+a")
        _put(self.page, words)
        expect(target).to_have_value(words)

    def write_time(self, target: Locator, moment: datetime) -> None:
        self._go_to(target)
        # Month first, as the browser of the tests has it.
        self.page.keyboard.type(f"{moment:%m%d%Y}")
        self.page.keyboard.press("ArrowRight")
        self.page.keyboard.type(f"{moment:%I%M%p}")
        expect(target).to_have_value(f"{moment:%Y-%m-%dT%H:%M}")

    def pull(self, handle: Locator, across_px: int, down_px: int, keys: list[str]) -> None:
        del across_px, down_px
        self._go_to(handle)
        for key in keys:
            self.page.keyboard.press(key)
            assert self._is_at(handle), f"{key} moves the focus away"

    def _go_to(self, target: Locator) -> None:
        target.wait_for()
        been: list[str] = []
        while not self._is_at(target, or_beside=True):
            here = self._tab()
            been.append(here)
            if been[-_MOST_STOPS_IN_A_FIELD - 1 :] == [here] * (_MOST_STOPS_IN_A_FIELD + 1):
                pytest.fail(f"the focus is trapped at {here}")
            if len(been) > _MOST_STOPS_ON_A_PAGE:
                pytest.fail(f"Tab does not lead to {target}; it led to {sorted(set(been))}")

    def _is_at(self, target: Locator, *, or_beside: bool = False) -> bool:
        """Say whether the focus is there; of several choices one alone is a stop for Tab."""
        return target.evaluate(
            """(one, orBeside) => {
                const at = document.activeElement;
                const isBeside = at.type === "radio" && at.name === one.name && at.form === one.form;
                return at === one || (orBeside && isBeside);
            }""",
            or_beside,
        )

    def _tab(self) -> str:
        """Press Tab and return where it led; fail where the eye cannot find it there."""
        self.page.keyboard.press("Tab")
        at = self.page.evaluate(_LOOK_AT_FOCUS)
        assert at["isMarked"], f"nothing shows that the focus is at {at['says']}"
        assert at["isInSight"], f"the focus is at {at['says']}, out of sight: {at['box']}"
        return at["says"]


class Finger:
    """A finger on a tablet: it taps what is large enough for it, and writes on the keys that the tablet shows."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.touch = page.context.new_cdp_session(page)

    def press(self, target: Locator) -> None:
        self._is_large(target)
        target.tap()

    def tick(self, target: Locator) -> None:
        self.press(target)
        expect(target).to_be_checked()

    def pick(self, target: Locator, option: str) -> None:
        self._is_large(target)
        target.select_option(option)

    def write(self, target: Locator, words: str) -> None:
        self.press(target)
        self.page.keyboard.press("Control+a")
        _put(self.page, words)
        expect(target).to_have_value(words)

    def write_time(self, target: Locator, moment: datetime) -> None:
        self._is_large(target)
        target.fill(f"{moment:%Y-%m-%dT%H:%M}")

    def pull(self, handle: Locator, across_px: int, down_px: int, keys: list[str]) -> None:
        del keys
        x, y = _middle(handle)
        self._touch("touchStart", x, y)
        for dx, dy in _way(across_px, down_px):
            self._touch("touchMove", x + dx, y + dy)
        self._touch("touchEnd")

    def _touch(self, kind: str, *at: float) -> None:
        points = [dict(zip("xy", at, strict=True))] if at else []
        self.touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def _is_large(self, target: Locator) -> None:
        size = target.evaluate(
            """async (one) => {
                // A size is one only once the page has its style sheet.
                if (document.readyState !== "complete") await new Promise((done) => addEventListener("load", done));
                const box = (one.closest("label") ?? one).getBoundingClientRect();
                return Math.min(box.width, box.height);
            }"""
        )
        assert size >= _SMALLEST_TARGET_PX, f"{target} is {size} px, too small for a finger"


# What the eye finds of the element that has the focus. A handle on a picture has no box of its own to outline:
# its grip or its wedge is drawn instead.
_LOOK_AT_FOCUS = """() => {
    const one = document.activeElement;
    if (one === document.body) return { says: "the page", isMarked: true, isInSight: true };
    const says = `${one.tagName} ${one.getAttribute("aria-label") || one.name || one.textContent.trim().slice(0, 40)}`;
    const look = getComputedStyle(one);
    const drawn = one.querySelector(":scope > .grip, :scope > .wedge");
    const isMarked = (look.outlineStyle !== "none" && parseFloat(look.outlineWidth) > 0)
        || (drawn !== null && getComputedStyle(drawn).stroke !== "none");
    const box = one.getBoundingClientRect();
    const parts = [0.1, 0.5, 0.9];
    const isInSight = parts.some((x) => parts.some((y) => {
        const top = document.elementFromPoint(box.x + box.width * x, box.y + box.height * y);
        return top && (one.contains(top) || one.closest("label")?.contains(top));
    }));
    return { says, isMarked, isInSight, box: JSON.stringify(box) };
}"""


def _put(page: Page, words: str) -> None:
    """Write key by key, a long text at once as if it were pasted."""
    if "\n" in words:
        page.keyboard.insert_text(words)
    else:
        page.keyboard.type(words)


def _middle(handle: Locator) -> tuple[float, float]:
    x, y = handle.locator(".grip, .point").evaluate(
        """(one) => {
            one.scrollIntoView({ block: "center" });
            const box = one.getBoundingClientRect();
            return [box.x + box.width / 2, box.y + box.height / 2];
        }"""
    )
    return x, y


def _way(across_px: int, down_px: int) -> list[tuple[float, float]]:
    return [(across_px * n / _STEPS_OF_A_DRAG, down_px * n / _STEPS_OF_A_DRAG) for n in range(1, _STEPS_OF_A_DRAG + 1)]
