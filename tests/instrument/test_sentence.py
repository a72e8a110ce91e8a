"""Sentences of the rules are plain text to everybody who does not ask for more."""

import copy
import json
import pickle
from datetime import UTC, datetime

import pytest

from trainer.instrument.refusal import Refusal
from trainer.instrument.sentence import Moment, Sentence, joined, said, teller

tell = teller({"far": "{n} of {of} stand {where}", "where": "there"})
FAR = tell("far", n=2, of=3, where=tell("where"))


def test_a_sentence_is_its_text_and_remembers_its_entry_and_values():
    assert FAR == "2 of 3 stand there"
    assert json.dumps([FAR]) == '["2 of 3 stand there"]'
    assert {FAR: 1}["2 of 3 stand there"] == 1
    assert (FAR.entry, FAR.places["n"], FAR.places["where"].entry) == ("far", 2, "where")
    assert type(str(FAR)) is str


@pytest.mark.parametrize("again", [copy.deepcopy, copy.copy, lambda one: pickle.loads(pickle.dumps(one))])
def test_copies_remember_too(again):
    assert again(FAR) == FAR
    assert (again(FAR).entry, dict(again(FAR).places)) == ("far", dict(FAR.places))
    moment = Moment(datetime(2026, 3, 4, 8, 5, tzinfo=UTC))
    assert again(moment).at == moment.at


def test_a_refusal_raised_with_a_sentence_gives_it_back():
    assert said(Refusal(FAR)) is FAR
    assert str(Refusal(FAR)) == FAR
    assert said(Refusal("plain")) == "plain"
    assert said(FileNotFoundError(2, "No such file")) == "[Errno 2] No such file"


@pytest.mark.parametrize(
    ("parts", "how", "last", "text"),
    [
        ([], "comma", "", ""),
        (["a"], "comma", "and", "a"),
        (["a", "b"], "comma", "or", "a or b"),
        (["a", "b", "c"], "comma", "or", "a, b or c"),
        (["a", "b", "c"], "and", "", "a and b and c"),
        (["a", "b", "c"], "semicolon", "", "a; b; c"),
    ],
)
def test_parts_are_joined_as_people_list_them(parts, how, last, text):
    assert joined(parts, how, last) == text


def test_a_moment_is_written_in_utc():
    assert Moment(datetime(2026, 3, 4, 8, 5, tzinfo=UTC)) == "2026-03-04 08:05 UTC"
    assert isinstance(FAR, Sentence)
