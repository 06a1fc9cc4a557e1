"""On paper what is suggested and what is pinned look alike; the screen tells them apart."""

from __future__ import annotations

from msgspec import structs

from core.display.items import Role
from core.formats import lesson_json
from core.page.engrave import engrave
from core.page.printed import printed
from core.page.style import A4, PageStyle
from resources import path
from tests import everything
from tests.core.page.kit import metrics


def roles(lesson, style=A4):
    sheets = engrave(lesson, style, metrics()).sheets
    return [item.role for sheet in sheets for block in sheet.blocks for item in block.items]


def demo():
    return lesson_json.read(path("demo", "rowing-home.footstool").read_bytes())


def test_suggestions_of_the_demo_print_as_what_is_pinned():
    assert Role.SUGGESTED in roles(demo())
    on_paper = roles(printed(demo(), PageStyle()))
    assert Role.SUGGESTED not in on_paper
    assert len(on_paper) >= len(roles(demo(), PageStyle(show_suggested=False)))


def test_everything_suggested_prints_alike_in_every_staff():
    for staves in ("staff and tab", "staff", "tab"):
        style = PageStyle(staves=staves)
        assert Role.SUGGESTED not in roles(printed(everything.lesson(), style), style)


def test_nothing_but_the_origins_changes():
    lesson = demo()
    firm = printed(lesson, PageStyle())
    assert printed(firm, PageStyle()) == firm
    measures = list(zip(_measures(lesson), _measures(firm), strict=True))
    assert any(a is b for a, b in measures)  # what has no suggestion is shared
    assert structs.replace(firm, arrangement=lesson.arrangement) == lesson


def test_suggestions_that_are_hidden_stay_hidden():
    style = PageStyle(show_suggested=False)
    assert printed(demo(), style) == demo()


def _measures(lesson):
    return [m for section in lesson.arrangement.sections for m in section.measures]
