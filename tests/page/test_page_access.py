"""Who can use the page: keyboard alone, a narrow screen, dark mode, less motion, an accessibility checker."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.page.browsing import Served, axe_faults, serving, until

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from tests.page.conftest import Opener

LOOKS: dict[str, dict[str, Any]] = {
    "light": {"color_scheme": "light"},
    "dark": {"color_scheme": "dark"},
    "narrow": {"viewport": {"width": 360, "height": 740}},
    "narrow dark": {"viewport": {"width": 360, "height": 740}, "color_scheme": "dark"},
}


@pytest.mark.parametrize("look", LOOKS)
def test_no_serious_fault(look: str, served: Served, opened: Opener) -> None:
    """axe-core finds no serious fault, with a section's controls, all folds and a fault of the text open."""
    page = opened(served.url, **LOOKS[look])
    page.get_by_role("button", name="change last chorus", exact=True).click()
    page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
    page.locator("#text").fill("title = 3")
    until(page, "document.getElementById('fault').textContent !== ''")
    assert axe_faults(page) == []


def test_a_planted_fault_is_found(page: Page) -> None:
    """The checker itself is at work: a button without a name is a serious fault."""
    page.evaluate("document.body.append(document.createElement('button'))")
    assert "button-name" in [fault["rule"] for fault in axe_faults(page)]


@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_nothing_runs_out_of_the_screen(width: int, served: Served, opened: Opener) -> None:
    """The page scrolls up and down only, with every fold open."""
    page = opened(served.url, viewport={"width": width, "height": 740})
    page.get_by_role("button", name="change last chorus", exact=True).click()
    page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
    page.wait_for_timeout(200)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_dark_mode_is_dark(served: Served, opened: Opener) -> None:
    """Paper and ink change places."""

    def lightness(scheme: str) -> float:
        page = opened(served.url, color_scheme=scheme)
        colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
        return sum(map(float, re.findall(r"[\d.]+", colour)[:3])) / 765

    assert lightness("dark") < 0.2
    assert lightness("light") > 0.8


def test_by_keyboard_alone(page: Page) -> None:
    """Play, change the feel of a section, compare, and stop, without a pointer."""
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the song"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "play"
    page.keyboard.press("Enter")
    until(page, "grooveforge.store.now.playing")
    page.keyboard.press("j")
    assert page.evaluate("document.activeElement.id") == "change-1"
    page.keyboard.press("Enter")
    page.locator("#set-feel").wait_for()
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "set-feel":
            break
    assert page.evaluate("document.activeElement.id") == "set-feel"
    page.keyboard.press("ArrowUp")
    until(page, "grooveforge.store.now.view.sections[1].feel !== 'full'")
    assert page.evaluate("document.activeElement.id") == "set-feel"
    page.keyboard.press("Shift+Tab")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("x")
    until(page, "grooveforge.store.now.view.sections[1].feel === 'full'")
    page.keyboard.press("Space")
    until(page, "!grooveforge.store.now.playing")


def test_the_focus_is_seen(page: Page) -> None:
    """Every control that takes the focus by Tab shows it by an outline."""
    for _ in range(25):
        page.keyboard.press("Tab")
        style = page.evaluate(
            "(({ outlineStyle, outlineWidth }) => [outlineStyle, parseFloat(outlineWidth)])"
            "(getComputedStyle(document.activeElement))"
        )
        assert style[0] != "none", page.evaluate("document.activeElement.outerHTML")
        assert style[1] >= 2


def test_single_keys_can_be_switched_off(page: Page) -> None:
    """With single keys off, the space bar plays nothing (WCAG 2.1.4)."""
    page.locator("#keys summary").click()
    page.get_by_label("single keys do this while no text is typed").uncheck()
    page.locator("h1").click()
    page.keyboard.press("Space")
    page.wait_for_timeout(200)
    assert page.evaluate("grooveforge.store.now.playing") is False


def test_keys_rest_while_one_types(page: Page) -> None:
    """Typing in the sheet is typing: no key of the page does anything."""
    page.locator("#text").focus()
    page.keyboard.type(" x 1 ")
    assert page.evaluate("grooveforge.store.now.silent.size") == 0
    assert page.evaluate("grooveforge.store.now.playing") is False


def test_what_happens_is_said(page: Page) -> None:
    """A change is told in the page's live region."""
    page.get_by_role("button", name="change shelter", exact=True).click()
    page.get_by_label("Feel", exact=True).select_option(label="full time")
    until(page, "document.getElementById('said').textContent.includes('Shelter')")


def test_less_motion(served: Served, opened: Opener) -> None:
    """Who wants less motion sees the bar that sounds, but no rule moving through it."""
    page = opened(served.url, reduced_motion="reduce")
    page.locator("#play").click()
    until(page, "grooveforge.player.stream && grooveforge.player.now > 1")
    assert page.locator(".cursor:not([hidden])").count() == 1
    assert page.evaluate("document.querySelector('.cursor:not([hidden]) .rule').style.transform") == ""


RIFF = """
title = "Kite Yard"
tempo = 120
form = ["a"]
[parts.a]
groove = "gallop"
bars = 4
riff = "x-xx"
"""


def test_the_bar_of_controls_holds_all_of_it(tmp_path: Path, opened: Opener) -> None:
    """A song with a riff has one control more: what does not fit beside it stands in the bar, not across its edge."""
    with serving(tmp_path, "kite-yard.toml", RIFF) as served:
        page = opened(served.url, viewport={"width": 1200, "height": 900})
        page.locator("#riff").wait_for()
        inside = "(name) => document.querySelector(name).getBoundingClientRect().bottom"
        assert page.evaluate(inside, ".hints") <= page.evaluate(inside, ".above")
