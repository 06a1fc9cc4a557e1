"""How a page looks: what is shown, paper, sizes. All choices of the reader, none of the music."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct, structs

from core.model import Settings

Names = Literal["", "letters", "fixed do", "movable do"]

A4_MM = (210.0, 297.0)
LETTER_MM = (215.9, 279.4)


class PageStyle(Struct, frozen=True):
    """Paper and choices. Millimetres on paper; `staff_mm` is the height of the five-line staff.

    `density` scales the ideal distances between notes, `sign_size` the small signs (fingers,
    plucking letters, circled strings), `line_weight` the thin lines: independent of staff size,
    as low-vision readers need them. `beat_dots` puts dots of three strengths under the staff.
    `names` helps beginners: letters in the heads (in a row where there are no heads), or syllables
    in a row, by the note (fixed do) or by its place in the key (movable do, minor keys from la).
    `shape_sheet` puts every chord shape of the lesson on pages after the music.
    `sounding` draws what sounds under a capo, else what is fingered (see `core.page.fingered`).
    """

    staves: Literal["staff and tab", "staff", "tab"] = "staff and tab"
    flow: Literal["pages", "line"] = "pages"
    width_mm: float = A4_MM[0]
    height_mm: float = A4_MM[1]
    left_mm: float = 16.0
    top_mm: float = 12.0
    right_mm: float = 14.0
    bottom_mm: float = 12.0
    staff_mm: float = 6.6
    density: float = 1.0
    sign_size: float = 1.0
    line_weight: float = 1.0
    show_suggested: bool = True
    show_fingers: bool = True
    title: bool = True
    footer: bool = True
    talk: bool = True
    phrases_per_line: int = 0  # 0: as many measures as a line holds
    beat_dots: bool = False
    talk_mm: float = 27.0
    names: Names = ""
    sounding: bool = False
    shape_sheet: bool = False

    @property
    def space_mm(self) -> float:
        """Millimetres in one staff space."""
        return self.staff_mm / 4

    @property
    def staff(self) -> bool:
        return self.staves != "tab"

    @property
    def tab(self) -> bool:
        return self.staves != "staff"

    def __post_init__(self) -> None:
        if not 2 <= self.staff_mm <= 30:
            raise ValueError(f"a staff of {self.staff_mm:g} mm is outside 2 to 30")
        usable_mm = self.width_mm - self.left_mm - self.right_mm
        if usable_mm < 25 * self.space_mm or self.height_mm < 60:
            raise ValueError("the paper is too small for this staff size")


# Low vision (UKAAF G009, 2013, excerpts read): other proportions, not a photocopy; a phrase a line.
# No sizes are published: these and those of `for_pages` are our own choice.
LARGE_STAFF_MM = 10.0
NAMED_STAFF_MM = 10.0  # a letter in a head is then 1.6 mm tall: our own choice


def for_settings(style: PageStyle, settings: Settings) -> PageStyle:
    """The style with what the lesson's settings ask of everything that shows its music. Letters in
    heads are no use where they are too small to read, so the staff is then at least 10 mm tall, as
    on the large staves of books for beginners."""
    heads = settings.names == "letters" and style.staff
    asked = structs.replace(
        style, names=settings.names, sounding=settings.sounding, shape_sheet=settings.shape_sheet,
        staff_mm=max(style.staff_mm, NAMED_STAFF_MM) if heads else style.staff_mm,
        beat_dots=settings.beat_dots or style.beat_dots,
    )  # fmt: skip
    return style if asked == style else asked


def for_pages(style: PageStyle, settings: Settings) -> PageStyle:
    """The style of pages as the lesson's settings ask for them: also paper, size and staves."""
    if settings.paper == "Letter" and (style.width_mm, style.height_mm) == A4_MM:
        style = structs.replace(style, width_mm=LETTER_MM[0], height_mm=LETTER_MM[1])
    if settings.large_print:
        width, height = max(style.width_mm, style.height_mm), min(style.width_mm, style.height_mm)
        style = structs.replace(
            style, width_mm=width, height_mm=height, staff_mm=LARGE_STAFF_MM, sign_size=1.25,
            line_weight=1.6, phrases_per_line=1, talk_mm=40.0,
        )  # fmt: skip
    if settings.phrase_lines:
        style = structs.replace(style, phrases_per_line=1)
    if style.staves == "staff and tab":
        style = structs.replace(style, staves=settings.staves)
    return for_settings(style, settings)


def small_style(style: PageStyle) -> PageStyle:
    """The style of other versions above a measure: without helps, signs and lines not quite as
    much smaller as the notes."""
    return structs.replace(
        style, names="", beat_dots=False, sign_size=1.15 * style.sign_size,
        line_weight=1.2 * style.line_weight,
    )  # fmt: skip


A4 = PageStyle()
LETTER = PageStyle(width_mm=LETTER_MM[0], height_mm=LETTER_MM[1])
LARGE_PRINT = for_pages(A4, Settings(large_print=True))
