import pytest

from app.theme import THEMES, contrast, luminance
from core.display.items import Role
from core.display.palette import PRINT, channels

# WCAG 2.2, success criterion 1.4.3 (level AA): 4.5:1 for text.
LEAST = 4.5
TEXT = ("ink", "pencil", "accent", "suggestion", "warning", "error")


def test_contrast_of_known_pairs():
    """Ends of the scale from WCAG 2.2; #767676 on white, 4.54:1, from its published techniques
    (from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#ffffff", "#ffffff") == pytest.approx(1)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert luminance("#ff0000") == pytest.approx(0.2126)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("ground", ["ground", "paper", "panel"])
@pytest.mark.parametrize("text", TEXT)
def test_text_can_be_read_on_every_ground(theme, ground, text):
    assert contrast(getattr(theme, text), getattr(theme, ground)) >= LEAST


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_text_can_be_read_on_tints_and_buttons(theme):
    assert contrast(theme.on_accent, theme.accent) >= LEAST
    for tint in theme.sections:
        assert contrast(theme.ink, tint) >= LEAST
        assert contrast(theme.pencil, tint) >= LEAST


@pytest.mark.parametrize(
    "palette", [PRINT, *(theme.palette for theme in THEMES)], ids=["print", "light", "dark"]
)
def test_every_role_reads_on_its_paper(palette):
    assert set(palette) == set(Role)
    for role in set(Role) - {Role.BLANK}:
        assert contrast(palette[role], palette[Role.BLANK]) >= LEAST


def test_print_needs_black_ink_only():
    assert all(len(set(channels(colour))) == 1 for colour in PRINT.values())
