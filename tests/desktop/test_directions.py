"""Lines of two directions: the order of Unicode's algorithm (UAX #9), and what is drawn of it."""

import pygame
import pytest

from trainer.desktop.directions import right_to_left, stretches
from trainer.desktop.fonts import Type


def as_seen(text):
    """Return a line as the eye meets it from left to right."""
    return "".join(told[::-1] if left else told for told, left in stretches(text))


@pytest.mark.parametrize(
    ("text", "seen"),
    [  # made by an implementation of UAX #9 of other hands (python-bidi 0.6), with the base of rule P2
        ("Progress of Ada", "Progress of Ada"),
        ("שלום", "םולש"),
        ("שלום עולם Name Name", "Name Name םלוע םולש"),
        ("Progress of שלום 12", "Progress of 12 םולש"),
        ("כהן 2, Ada", "Ada ,2 ןהכ"),
        ("שלום 3.5%", "3.5% םולש"),
        ("עולם 1-2: Bench 7", "Bench 7 :1-2 םלוע"),
        ("עולם …", "… םלוע"),
    ],
)
def test_a_line_of_two_directions_stands_as_it_is_read(text, seen):
    assert as_seen(text) == seen


def test_the_first_letter_with_a_direction_gives_that_of_the_line():
    assert [right_to_left(text) for text in ("12 שלום", "12 Ada שלום", "12", "")] == [
        True,
        False,
        False,
        False,
    ]


def test_latin_letters_in_a_line_to_the_left_are_drawn_as_they_are_alone():
    kind, black = Type(2.0), (0, 0, 0)
    whole, latin = kind.render("שלום Name", "body", black), kind.render("Name ", "body", black)
    left = whole.subsurface(pygame.Rect(0, 0, kind.width("Name", "body"), whole.get_height()))
    alone = latin.subsurface(left.get_rect())
    assert pygame.image.tobytes(left, "RGBA") == pygame.image.tobytes(alone, "RGBA")
    assert abs(whole.get_width() - kind.width("שלום Name", "body")) <= 4
