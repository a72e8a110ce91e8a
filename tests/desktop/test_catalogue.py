"""Every text of the window comes from the catalogue, and every number in it has the decimal mark in force.

The tours are walked in a made-up language in which every letter of the catalogue is another one. What is
still in plain letters did not come from it: names, what people typed, and the few things listed here.
"""

import re
import string
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

import pytest
from office import BEN, PHRASES, RUTH, Bench, quick_keys, who
from test_kinds import answer, begun, plan_of
from tour_signoff import RULE

import player as players
import tour as tours
from trainer.desktop import words, words_shipped
from trainer.desktop.screens import plans as plans_screen
from trainer.desktop.screens.drill import Drill
from trainer.desktop.settings import Settings
from trainer.instrument import sentence, typed_words
from trainer.instrument.refusal import Refusal
from trainer.practice import words as practice_words
from trainer.practice.kinds import DRILLS
from trainer.records import words as records_words
from trainer.scoring import words as scoring_words
from trainer.signoff import words as signoff_words
from trainer.signoff.guard import ATTESTS, PERSON_ATTESTS

STRANGE = {ord(c): 0x1D5BA + i for i, c in enumerate(string.ascii_lowercase)} | {
    ord(c): 0x1D5A0 + i for i, c in enumerate(string.ascii_uppercase)
}
NAMES = (
    "Ada Example", "Bea Sample", "Carl Instance", "Dora Case", "Emil Invented", "Fritz Muster", "Ruth Amsel",
    "Ben Olt",
)  # fmt: skip
PERMITTED = (
    "First tenths, metric, at our bench",  # the title of somebody's own plan
    "with the loupe",  # a condition as the supervisor wrote it
    ATTESTS,  # what is attested is signed as it stands, so it is shown as it stands
    PERSON_ATTESTS,
    "UTC",  # symbols, the same in every language
    "mm",
    "F2",
    "F3",
    # refusals of the system and of the archive, and the text of a fault in the program, come as they are
    "The disk is full: the answer was not written. Free some space, then try again.",
    "ZeroDivisionError: division by zero",
    "fault-20260302-080100.txt",
)
LOOKS = re.compile(r"[0-9a-f]{4}( [0-9a-f]{4})+|[0-9a-f]{16}|([a-z]{4} ){5}[a-z]{4}|keys/.*\.key")
"""What is made by chance: fingerprints, numbers of statements, passphrases, and the place of a key file."""
NOT_SHOWN = {"key", "kind", "icon", "style", "tone", "align", "ground", "name", "value", "shape", "sort"}


def strange(text: str) -> str:
    """Return a text of the catalogue in the made-up language, its blanks as they are."""
    parts = string.Formatter().parse(text)
    return "".join(
        plain.translate(STRANGE).replace("{", "{{").replace("}", "}}") + (f"{{{blank}}}" if blank else "")
        for plain, blank, _, _ in parts
    )


def texts(node: object, where: str = "") -> Iterator[str]:
    """Yield every text that a node and those in it show, tips and what points tell included."""
    kind = type(node).__name__
    if isinstance(node, str):
        yield node
    elif kind == "Shot":
        yield from node.notes
    elif kind == "Series":
        yield from (told for _, _, told, _ in node.points)
    elif is_dataclass(node):
        for field in fields(node):
            if kind == "Choice" and field.name == "options":
                yield from (text for _, text in node.options)
            elif field.name not in NOT_SHOWN:
                yield from texts(getattr(node, field.name), field.name)
    elif isinstance(node, tuple | list):
        for one in node:
            yield from texts(one, where)


@pytest.fixture(scope="module")
def abroad():
    """Speak the made-up language, with a decimal comma, while the screens are made."""
    shipped = words_shipped.shipped_words()
    catalogue = {**words.ENGLISH, **shipped}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tours, "signoff_tour", tours.signoff_tour.__wrapped__)
        patch.setattr(players, "Settings", lambda: Settings(decimal=","))
        plans_screen._lines.clear()
        words.use({entry: strange(text) for entry, text in catalogue.items()}, shipped)
        yield
    words.use({})
    plans_screen._lines.clear()


@pytest.fixture(scope="module")
def shown(abroad):
    """Return every text of every screen of the tours, with the screens that show it."""
    found: dict[str, list[str]] = {}
    for name, app in tours.tour.__wrapped__().items():
        for text in (*texts(app.top.screen.view(app.desk)), app.toast):
            found.setdefault(text, []).append(name)
    return found


def left_over(text: str) -> str:
    """Return what of a text is neither from the catalogue nor permitted."""
    text = LOOKS.sub("", text)
    for known in (*NAMES, *PERMITTED):
        text = text.replace(known, "")
    return " ".join(re.findall(r"[A-Za-z]{2,}", text))


def test_no_text_of_the_tours_is_from_outside_the_catalogue(shown):
    assert len(shown) > 700
    outside = {text: where[:3] for text, where in shown.items() if left_over(text)}
    assert outside == {}


def test_what_is_permitted_is_needed(shown):
    for known in PERMITTED:
        assert any(known in text for text in shown), known


def test_every_number_of_the_tours_has_the_decimal_mark_in_force(shown):
    marks = [text for text in shown if re.search(r"\d,\d", text)]
    assert len(marks) > 100
    points = {text: where[:3] for text, where in shown.items() if re.search(r"\d\.\d", text)}
    assert set(points) == {strange("Point, 0.5")}  # the name of the other choice


@pytest.mark.parametrize("drill", list(DRILLS))
def test_no_kind_of_drill_shows_a_text_from_outside(abroad, drill):
    """Questions, refusals of what was typed, feedback right and wrong, the result and its coaching."""
    player = begun(plan_of(drill))
    found = set()
    for step in range(200):
        found.update(texts(player.screen.view(player.app.desk)))
        if not isinstance(player.screen, Drill):
            break
        if player.screen.session.phase == "feedback":
            player.press("enter")
            continue
        if player.screen.session.kind.unit != "words" and player.screen.session.turning is None:
            player.type("7.3.x")  # no answer to anything
            player.press("enter")
            found.update(texts(player.screen.view(player.app.desk)))
            player.press(*["backspace"] * 5)
        answer(player)
        assert step < 199
    known = rf"Try {drill}|7\.3\.x|\bin\b"  # the plan's own title, what was typed, the unit
    outside = {text for text in found if left_over(re.sub(known, "", text))}
    assert outside == set()
    assert len(found) > 20


def test_no_entry_stands_in_two_catalogues():
    rooms = [
        sentence.WORDS,
        typed_words.WORDS,
        scoring_words.WORDS,
        practice_words.WORDS,
        signoff_words.WORDS,
        records_words.WORDS,
    ]
    own = [words.words_screens, words.words_drill, words.words_help, words.words_bench, words.words_rooms,
           words.words_signoff]  # fmt: skip
    parts = [*rooms, *(module.WORDS for module in own)]
    assert sum(map(len, parts)) == len(words.ENGLISH)
    assert not words.ENGLISH.keys() & words_shipped.shipped_words().keys()


def test_refusals_of_the_sign_off_and_of_the_archive_are_said_in_the_language(abroad, tmp_path):
    """Through the real archive: a name that is there, a change without a reason, an account's own check."""
    with quick_keys():
        bench = Bench(tmp_path, ("Ada Example", RUTH))
        bench.accounts(RUTH, BEN)
        found = []
        for doing in (
            lambda: bench.archive.add_person("Ada Example"),
            lambda: bench.archive.add_person("  "),
            lambda: bench.office.start_check(bench.archive, who(RUTH), person_named(bench, RUTH), RULE),
            lambda: bench.office.open_attempt(
                bench.archive, who(BEN), person_named(bench, "Ada Example"), RULE, "x"
            ),
            lambda: bench.office.add_account(bench.archive, who(BEN), RUTH, ("supervisor",), PHRASES[RUTH]),
        ):
            with pytest.raises(Refusal) as caught:
                doing()
            found.append(words.spoken(sentence.said(caught.value)))
        bench.archive.close()
    assert [text for text in found if left_over(text)] == []
    assert len(set(found)) == 5


def person_named(bench, name):
    return bench.archive.person(name).id
