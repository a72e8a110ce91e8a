"""Translations of the window: checked against the catalogue, and spoken."""

import pytest

from trainer.desktop import languages, words


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
        ('title = "Probe"\n[texts]\n"count.items" = "Posten"\n', r"keep these: \{n\}"),
        ('title = "Probe"\n[texts]\n"rail.home" = "{secret}"\n', "keep these: none"),
    ],
)
def test_faults_are_sentences(tmp_path, text, says):
    with pytest.raises(languages.UnusableLanguage, match=says):
        languages.load(write(tmp_path, text), words.ENGLISH)


def test_the_languages_that_come_with_the_program_fit_its_catalogue():
    for name in languages.names():
        languages.load(languages.FOLDER / f"{name}.toml", words.ENGLISH)
