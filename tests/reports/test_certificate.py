"""The certificate: one page that says what the signed file says, and whose figure starts from nought."""

import copy
import json
from pathlib import Path

import pypdf
import pytest

from trainer.practice.plans import shipped_folder
from trainer.reports.certificate import write
from trainer.reports.wording import true_minus
from trainer.signoff.canonical import tidy
from trainer.signoff.criteria import find
from trainer.signoff.decision import decide
from trainer.signoff.statement import evidence_row, limitations

SAMPLE = json.loads((shipped_folder() / "recorded" / "inspector-1.json").read_text(encoding="utf-8"))


def page_text(document, folder, paper="a4"):
    """Return the text of a certificate's only page, as another program reads it; white space is folded."""
    pages = pypdf.PdfReader(write(folder / "page.pdf", document, paper=paper)).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def with_checks(count, flags=()):
    """Return the sample with so many checks, of which the first has something on its record."""
    made = copy.deepcopy(SAMPLE)
    row = {**made["body"]["evidence"][0], "attested": True}
    made["body"]["evidence"] = [{**row, "flags": list(flags) if n == 0 else []} for n in range(count)]
    made["body"]["evidence"][-1]["attested"] = False
    return made


def judging():
    """Return a document about judging; the page does not look at signatures."""
    from tests.signoff.test_judging import a_day

    criterion = find("judging-metric")
    days = [a_day(1, false_rejects=1), a_day(2), a_day(3)]
    made = copy.deepcopy(SAMPLE)
    made["body"] |= {
        "criterion": {**made["body"]["criterion"], "title": criterion.title},
        "decision": decide(criterion, days).to_dict(),
        "evidence": [evidence_row(one, {"flags": [], "attested": "I did"}) for one in days],
        "limitations": limitations(criterion),
    }
    return tidy(made)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("count", [1, 4, 9, 40])
def test_it_is_one_page_whatever_it_holds(tmp_path, paper, count):
    text = page_text(with_checks(count, ["paused 1 time"]), tmp_path, paper)
    assert "paused 1 time" in text
    assert f"by the person in {count - 1} of {count} check" in text
    assert ("more checks, in the signed file" in text) is (count == 40 or (count == 9 and paper == "letter"))


def test_it_says_what_was_signed_in_the_trade_s_signs(tmp_path):
    text = page_text(SAMPLE, tmp_path)
    for words in ("Inspector 1", "Supervisor 2", "80 readings in 4 sittings", "0 of 80", "−15 to 15 degrees"):
        assert words in text
    assert "`" not in text
    assert " -1" not in text
    assert "tenthwise verify FILE" in text


def test_a_certificate_of_judging_speaks_of_judgements(tmp_path):
    text = page_text(judging(), tmp_path)
    for words in ("300 judgements in 3 sittings", "false accepts", "false rejects", "0 of 75", "1 of 75"):
        assert words in text, words
    assert "misread" not in text
    assert "bias" not in text


def test_hyphens_in_words_stay():
    assert true_minus("full-reading at -0.5, 2026-03-01") == "full-reading at −0.5, 2026-03-01"


def test_the_figure_starts_from_nought_but_for_the_bias(tmp_path, monkeypatch):
    from trainer.reports import certificate

    drawn = []
    plain = certificate.dress
    monkeypatch.setattr(certificate, "dress", lambda ax, *words: drawn.append(ax) or plain(ax, *words))
    write(Path(tmp_path) / "page.pdf", SAMPLE)
    bias, others = drawn
    assert bias.get_xlim() == pytest.approx((-0.625, 0.625))  # the limit is 0.5
    assert others.get_xlim()[0] == 0.0
    assert others.get_xlim()[1] >= 1.25
