"""`tenthwise plans`: list, show, check and copy."""

import json
import re

import pytest

from trainer.commands.main import main
from trainer.practice import plans


def test_list_names_every_shipped_plan(capsys):
    assert main(["plans", "list"]) == 0
    shown = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in shown] == list(plans.shipped_files())
    assert main(["plans", "list", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["plans"]
    assert [plan["name"] for plan in told] == list(plans.shipped_files())


@pytest.mark.parametrize("name", plans.shipped_files())
def test_show_tells_every_field_and_default(name, capsys):
    plan = plans.find(name)
    assert main(["plans", "show", name]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith(f"{plan.title}\n{plan.note}\n")
    assert re.search(rf"^items +{plan.items}$", shown, re.MULTILINE)
    assert re.search(rf"^placement +{plan.placement}$", shown, re.MULTILINE)
    assert main(["plans", "show", name, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == plan.title


def test_check_tells_every_fault_with_its_line_and_exits_1(capsys, tmp_path):
    good, bad = tmp_path / "good.toml", tmp_path / "bad.toml"
    good.write_text('title = "Mine"\ndrill = "judge"\ninstrument = "metric"\nitems = 30\n')
    bad.write_text('title = "Mine"\ndrill = "vernier"\ninstrument = "metric"\nitems = 30\n\nhalves = true\n')
    assert main(["plans", "check", str(good)]) == 0
    assert capsys.readouterr().out == f"{good}: usable: Mine\n"
    assert main(["plans", "check", str(good), str(bad)]) == 1
    assert capsys.readouterr().out.splitlines() == [
        f"{good}: usable: Mine",
        f"{bad}, line 6: halves: is for drill = 'tenths' only; leave it out of 'vernier'",
    ]
    assert main(["plans", "check", str(bad), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["files"][0]["usable"] is False
    assert main(["plans", "check", str(tmp_path / "none.toml")]) == 1
    assert "cannot be read: No such file" in capsys.readouterr().out


def test_check_warns_of_what_a_screen_cannot_show(capsys, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text('title = "Mine"\ndrill = "judge"\ninstrument = "metric"\nitems = 30\n')
    assert main(["plans", "check", str(file), "--px-per-mm", "3,78"]) == 0
    shown = capsys.readouterr().out
    assert "warning: a division is 3.8 pixels, so a tenth of it is less than one" in shown
    assert "warning: the tolerance of 2.0 µm is 0.76 pixels on this screen" in shown


def test_copy_makes_a_plan_of_ones_own_and_never_overwrites(capsys, tmp_path):
    name = next(iter(plans.shipped_files()))
    target = tmp_path / "mine.toml"
    assert main(["plans", "copy", name, str(target)]) == 0
    assert f"tenthwise plans check {target}" in capsys.readouterr().out
    spaced = tmp_path / "my plan.toml"
    assert main(["plans", "copy", name, str(spaced)]) == 0
    assert f'tenthwise plans check "{spaced}"' in capsys.readouterr().out
    assert plans.find(str(target)).title == plans.find(name).title
    assert main(["plans", "copy", name, str(target)]) == 1
    assert "is there already" in capsys.readouterr().err
    assert main(["plans", "copy", name, str(tmp_path / "mine.txt")]) == 1
    assert "does not end in .toml" in capsys.readouterr().err
    assert main(["plans", "copy", "no-such", str(tmp_path / "x.toml")]) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mine.toml", "my plan.toml"]
