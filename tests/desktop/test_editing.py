"""A line of text: selection, words, undo, the longest text, a paste of a megabyte."""

import time

import pygame
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.desktop import editing
from trainer.desktop.events import Key
from trainer.desktop.inputs import Translator
from trainer.desktop.ui import Memory

KEYS = st.sampled_from(["left", "right", "home", "end", "backspace", "delete", "a", "z", "y"])


def test_typing_replaces_what_is_selected():
    text, memory = editing.insert("7.38", Memory(caret=4, anchor=2), "4", 20)
    assert (text, memory.caret, memory.anchor) == ("7.4", 3, 3)


def test_undo_and_redo_give_the_text_back_step_by_step():
    text, memory = "", Memory()
    for character in "7.3":
        text, memory = editing.insert(text, memory, character, 20)
    text, memory = editing.undone(text, memory)
    assert text == "7."
    text, memory = editing.undone(text, memory)
    assert text == "7"
    text, memory = editing.redone(text, memory)
    assert text == "7."


def test_ctrl_with_arrows_and_backspace_works_by_words():
    text, memory = "Ada Example", Memory(caret=11, anchor=11)
    _, left = editing.key(text, memory, Key("left", ctrl=True))
    assert left.caret == 4
    cut, _ = editing.key(text, memory, Key("backspace", ctrl=True))
    assert cut == "Ada "


def test_a_paste_of_a_megabyte_is_cut_to_the_longest_text_at_once():
    began = time.perf_counter()
    text, memory = editing.insert("", Memory(), "x" * 1_000_000, 200)
    assert (len(text), memory.caret) == (200, 200)
    assert time.perf_counter() - began < 1.0  # a hang would take far longer; the usual figure is below 1 ms


def test_line_breaks_and_control_characters_of_a_paste_become_one_line():
    text, _ = editing.insert("", Memory(), "Ada\r\nExample\x00\x07", 200)
    assert text == "Ada  Example"


@pytest.mark.parametrize(
    "name",
    [
        "\u0646\u06cc\u200c\u06a9\u0648",  # Persian: a non-joiner between two parts of a word
        "\u0915\u094d\u200d\u0937",  # Devanagari: a joiner asks for the half form (Unicode 12.1)
    ],
)
def test_names_keep_their_joiners_and_lose_marks_of_direction(name):
    text, memory = editing.insert("", Memory(), f"\u202e{name}\u200f", 200)
    assert (text, memory.caret) == (name, len(name))
    for character in name:
        event = pygame.event.Event(pygame.TEXTINPUT, text=character)
        assert [one.text for one in Translator().translate([event], 1.0)] == [character]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.one_of(st.text(max_size=6), st.builds(Key, KEYS, ctrl=st.booleans(), shift=st.booleans())),
        max_size=30,
    )
)
def test_whatever_is_typed_the_caret_stays_in_the_text_and_undo_leads_back(script):
    text, memory, longest = "", Memory(), 12
    for step in script:
        if isinstance(step, str):
            text, memory = editing.insert(text, memory, step, longest)
        else:
            done = editing.key(text, memory, step)
            if done is not None:
                text, memory = done
        assert 0 <= memory.caret <= len(text)
        assert 0 <= memory.anchor <= len(text)
        assert len(text) <= longest
    while memory.undo:
        text, memory = editing.undone(text, memory)
    assert text == ""
