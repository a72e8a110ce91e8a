"""Translations of the window: checked against the catalogue, and spoken."""

import json
import time
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from trainer.desktop import languages, words
from trainer.instrument import typed_words
from trainer.instrument.sentence import Moment
from trainer.practice import words as practice_words
from trainer.signoff import words as signoff_words


@pytest.fixture
def english_again():
    """Speak English again afterwards."""
    yield
    words.use({})


def write(tmp_path, text):
    path = tmp_path / "xx.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_language_is_spoken_and_what_it_leaves_out_is_english(tmp_path, english_again):
    path = write(tmp_path, 'title = "Probe"\n[texts]\n"rail.home" = "Anfang"\n')
    language = languages.load(path, words.ENGLISH)
    assert (language.name, language.title) == ("xx", "Probe")
    people = words.say("rail.people")
    words.use(language.texts)
    assert words.say("rail.home") == "Anfang"
    assert words.say("rail.people") == people


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("title = ", "mend the file"),
        ('title = "Probe"\n', r"needs a title and a table \[texts\]"),
        ('title = "Probe"\n[texts]\n"rail.nowhere" = "x"\n', "rail.nowhere is no entry of the catalogue"),
        ('title = "Probe"\n[texts]\n"rail.home" = " "\n', "rail.home has no text"),
        ('title = "Probe"\n[texts]\n"rail.home" = "a { b"\n', r"rail.home has a blank that cannot be filled"),
        ('title = "Probe"\n[texts]\n"count.items" = "{n:zz}"\n', r"count.items has a blank that cannot"),
        ('title = "Probe"\n[texts]\n"count.items" = "Posten"\n', r"keep these: \{n\}"),
        ('title = "Probe"\n[texts]\n"rail.home" = "{secret}"\n', "keep these: none"),
    ],
)
def test_faults_are_sentences(tmp_path, text, says):
    with pytest.raises(languages.UnusableLanguage, match=says):
        languages.load(write(tmp_path, text), words.ENGLISH)


def test_the_languages_that_come_with_the_program_fit_its_catalogue(tmp_path):
    for name in languages.names():
        languages.load(languages.FOLDER / f"{name}.toml", words.ENGLISH)
    # none comes with it so far: so a whole one, every entry of the catalogue with a word before it
    lines = [f"{json.dumps(entry)} = {json.dumps('x ' + text)}" for entry, text in words.ENGLISH.items()]
    whole = languages.load(write(tmp_path, "\n".join(['title = "Probe"', "[texts]", *lines])), words.ENGLISH)
    assert whole.texts.keys() == words.ENGLISH.keys()
    assert len(whole.texts) > 500


def test_the_settings_offer_what_there_is_and_remember_it(tmp_path):
    from player import MemoryStore, Player
    from trainer.desktop import settings
    from trainer.desktop.work import Services

    store, path = MemoryStore(["Ada Example"]), tmp_path / "window.json"
    player = Player(store, services=Services(lambda: store, lambda: 1, path))
    player.press("8", ctrl=True)
    assert player.layout.find("language") is None, "nothing to choose from"
    player.app = replace(player.app, desk=replace(player.app.desk, languages=(("xx", "Probe"),)))
    player.tab_to("language")
    player.press("right")
    assert player.app.desk.settings.language == "xx"
    assert settings.load(path).language == "xx"


def test_a_chosen_language_is_spoken_from_the_start_and_a_faulty_one_told(
    tmp_path, monkeypatch, english_again
):
    from trainer.desktop import program

    monkeypatch.setattr(languages, "FOLDER", tmp_path)
    write(tmp_path, 'title = "Probe"\n[texts]\n"rail.home" = "Anfang"\n')
    (tmp_path / "bad.toml").write_text("title = ", encoding="utf-8")
    monkeypatch.setattr(languages.names, "__defaults__", (tmp_path,))
    found, troubles = program._tongues("xx")
    assert found == (("xx", "Probe"),)
    assert words.say("rail.home") == "Anfang"
    assert len(troubles) == 1
    assert "bad.toml" in troubles[0]


def test_a_sentence_of_the_rules_is_said_in_the_language_with_its_values(english_again):
    told = told_bias("0.4")
    assert words.spoken(told) == told
    words.use({"ready.bias": "Abweichung {bias}, Grenze {limit}"})
    assert words.spoken(told, ",") == "Abweichung 0,4, Grenze 0,5"
    assert words.say("case.waits", what=told) == "Waits for Abweichung 0.4, Grenze 0.5."
    assert str(told).startswith("the bias is 0.4 tenths"), "the text itself stays English"


def told_bias(bias):
    return practice_words.tell("ready.bias", bias=bias, limit="0.5")


def test_what_somebody_typed_keeps_its_mark():
    told = typed_words.tell("typed.two-signs", text="7.3.8")
    assert words.spoken(told, ",") == "'7.3.8' has more than one decimal sign; type one point or one comma"
    assert words.spoken(typed_words.tell("typed.nothing"), ",").endswith("such as 7,384")


def test_titles_of_what_is_shipped_have_entries_and_own_titles_stay(tmp_path, english_again):
    path = write(tmp_path, 'title = "Probe"\n[texts]\n"plan.check-metric.title" = "Akten"\n')
    language = languages.load(path, words.ENGLISH)
    title = language.shipped["plan.check-metric.title"]
    words.use(language.texts, language.shipped)
    assert words.spoken(title) == "Akten"
    assert words.spoken(f"{title}, at our bench") == f"{title}, at our bench"


@pytest.mark.skipif(
    not hasattr(time, "tzset"), reason="Windows takes the time of the place from its settings"
)
@pytest.mark.parametrize(
    ("zone", "shown"),
    [
        ("UTC0", "2026-07-01 12:30\N{NO-BREAK SPACE}UTC"),
        ("IST-5:30", "2026-07-01 18:00\N{NO-BREAK SPACE}UTC+05:30"),
        ("BRT3", "2026-07-01 09:30\N{NO-BREAK SPACE}UTC\N{MINUS SIGN}03:00"),
    ],
)
def test_a_moment_is_shown_in_the_time_of_the_place(monkeypatch, zone, shown):
    moment = Moment(datetime(2026, 7, 1, 12, 30, tzinfo=UTC))
    with monkeypatch.context() as patch:
        patch.setenv("TZ", zone)
        time.tzset()
        told = signoff_words.tell("wait.day", start=moment, soon=signoff_words.tell("soon.now"))
        assert f"from {shown} (now)" in words.spoken(told)
    time.tzset()
