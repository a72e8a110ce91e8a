"""The lines of a TOML file's keys, against the file itself."""

import tomllib

import pytest

from trainer.commands.toml_lines import key_lines, line_of

TEXT = """# a comment with [brackets] and a = b
title = "x = [not a table]" # and [more]
"quoted key" = 1
dotted.inner.key = 2

[inputs]
a = {value = 1, u = 0.5}

  [inputs.b] # indented
  value = 3
many = [
  1, # one = two
  2,
]
after = 4

[[correlations]]
between = ["a", "b"]
[[correlations]]
r = 0.5
"""


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("quoted key",), 3),
        (("dotted", "inner", "key"), 4),
        (("inputs",), 6),
        (("inputs", "a", "u"), 7),
        (("inputs", "b"), 9),
        (("inputs", "b", "value"), 10),
        (("inputs", "b", "many"), 11),
        (("inputs", "b", "after"), 15),
        (("correlations", "0", "between"), 18),
        (("correlations", "1"), 19),
        (("correlations", "1", "r"), 20),
    ],
)
def test_every_key_is_found_on_its_line(path, line):
    assert key_lines(TEXT)[path] == line


def test_every_key_that_the_standard_reader_sees_has_a_line():
    lines, rows, found = key_lines(TEXT), TEXT.split("\n"), []

    def walk(value, path):
        if path and path != ("dotted",) and path != ("dotted", "inner"):  # they stand on no line of their own
            assert path[-1] in rows[lines[path] - 1], path  # its own line, not its table's
            found.append(path)
        if isinstance(value, dict):
            for key, inner in value.items():
                walk(inner, (*path, key))

    walk(tomllib.loads(TEXT), ())
    assert len(found) == 12


def test_a_missing_key_has_the_line_of_the_table_around_it():
    lines = key_lines(TEXT)
    assert line_of(lines, ("inputs", "b", "half_width")) == 9
    assert line_of(lines, ("nothing", "here")) is None


@pytest.mark.parametrize("much", ["{" * 100_000, "x" * 100_000, " " * 100_000, '\\"' * 50_000])
def test_lines_of_any_length_are_got_over(much):
    """One long text, one long word, spaces, open quotes: each took a square of its length once."""
    found = key_lines(f'title = "a{much}"\n# {much}\n# [ {much}\nnext = 1')
    assert found == {("title",): 1, ("next",): 4}
