"""The calculation record: what the assessment says stands in it, whatever was typed, the same every time."""

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest

from lapel.assessment.results import GRAVEST_FIRST
from lapel.assessment.survey import assess
from lapel.documents import compose, limit_sentences
from lapel.documents.assessment_record import record_data, write_assessment_record
from lapel.documents.compose_findings import finding_rows
from lapel.documents.record_workings import samplers_to_look_at
from lapel.documents.render import DocumentNotWritten
from lapel.exchange.survey_folder import read_survey
from lapel.figures import working
from lapel.pictures.lettering import printable
from tests.documents.pdf_text import fonts_of, page_texts, squeezed, whole_text

EXAMPLES = Path(__file__).parents[2] / "examples"
HOSTILE = (
    "#panic(1) *bold* _under_ `raw` $x^2$ <label> @ref \\u{1F600}",
    "<script>alert('x')</script> & \"quoted\" ‘single’ // no comment /* nor this */",
    "= Heading\n- list\n+ enum\n/ term: x",
    "שלום עולם",
    "W" * 400,
    "name\u202egnp.exe \u0000 \ud800 汉字",
    "__ ~~ -- --- ... [content] {code} #let x = 1",
)


@pytest.fixture(scope="module")
def hard():
    return assess(read_survey(EXAMPLES / "hard"))


@pytest.fixture(scope="module")
def hard_pdf(hard, tmp_path_factory):
    path = tmp_path_factory.mktemp("record") / "hard.pdf"
    write_assessment_record(hard, path)
    return path


@pytest.fixture(scope="module")
def hard_text(hard_pdf):
    return whole_text(hard_pdf)


def test_it_is_marked_as_accessible_and_archival(hard_pdf):
    with pikepdf.open(hard_pdf) as pdf:
        meta = pdf.open_metadata()
        assert meta["pdfuaid:part"] == "1"
        assert (meta["pdfaid:part"], meta["pdfaid:conformance"]) == ("2", "A")
        assert str(pdf.Root["/Lang"]) == "en"
        assert "/StructTreeRoot" in pdf.Root
        assert pdf.Root["/MarkInfo"]["/Marked"]
        assert pdf.Root["/ViewerPreferences"]["/DisplayDocTitle"]
        assert "/OutputIntents" in pdf.Root
        assert meta["dc:title"].startswith("Calculation record: Solvents")


def test_every_font_is_inside_the_file(hard_pdf):
    with pikepdf.open(hard_pdf) as pdf:
        fonts = fonts_of(pdf)
        assert fonts
        assert all("/FontFile3" in font or "/FontFile2" in font for font in fonts)
        assert {re.sub(r"^.*\+", "", str(font["/FontName"])) for font in fonts} <= {
            "Inter-Regular",
            "Inter-SemiBold",
            "DejaVuSansCondensed",
        }


def test_every_picture_has_words_for_those_who_do_not_see_it(hard_pdf):
    with pikepdf.open(hard_pdf) as pdf:
        figures = [o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and o.get("/S") == "/Figure"]
        assert len(figures) > 40
        assert all(str(figure.get("/Alt", "")).strip() for figure in figures)


def test_pages_are_numbered_to_the_last(hard_pdf):
    pages = page_texts(hard_pdf)
    for number, text in enumerate(pages, start=1):
        assert f"Page{number}of{len(pages)}" in text


def test_every_verdict_stands_in_it_as_composed(hard, hard_text):
    rows = compose.verdict_rows(hard)
    assert len(rows) > 60
    for row in rows:
        for cell in (row.agent, row.average, row.share, row.verdict, row.limit.split(" (")[0], row.settles):
            assert squeezed(cell) in hard_text
        assert squeezed(row.reason[1:]) in hard_text
        for other in row.others:
            assert squeezed(other) in hard_text


def test_a_row_carries_its_own_verdict(hard, hard_text):
    """Share, verdict and robustness follow one another, so no verdict can have slipped to another row."""
    for result in hard.shifts:
        for row in compose.shift_verdict_rows(hard, result):
            run = squeezed(f"{row.average}{row.limit}{row.share}{row.verdict}{row.robust}")
            if row.average == "–":
                continue
            places = [match.start() for match in re.finditer(re.escape(run), hard_text)]
            around = [hard_text[max(0, place - 300) : place + len(run) + 600] for place in places]
            assert any(squeezed(row.agent) in text for text in around)


def test_every_sample_and_finding_stands_in_it_as_composed(hard, hard_text):
    for row in compose.sample_rows(hard):
        run = squeezed(f"{row.minutes}{row.flow}{row.change}{row.volume}{row.mass}{row.concentration}")
        assert run in hard_text
        assert squeezed(row.standing) in hard_text
    for finding in finding_rows(hard):
        for cell in (finding.title, finding.found, finding.remedy, finding.source):
            assert squeezed(cell) in hard_text


def test_clauses_nobody_read_are_marked(hard, hard_text):
    unread = [finding for finding in finding_rows(hard) if finding.clause_unread]
    assert unread
    for finding in unread:
        assert squeezed(f"{finding.title} clause not read") in hard_text


def test_the_first_page_says_each_limit_once_the_worst_first(hard, hard_pdf):
    sentences = limit_sentences.limit_sentences(hard)
    ranks = [GRAVEST_FIRST.index(sentence.verdict) for sentence in sentences]
    assert ranks == sorted(ranks)
    first = page_texts(hard_pdf)[0]
    places = [first.index(squeezed(sentence.words)) for sentence in sentences]
    assert places == sorted(places)


def test_the_sentences_count_every_exposure(hard):
    """An exposure that is left out of the first page would read as under."""
    counted = {"over": 0, "cannot tell": 0, "under": 0}
    for row in compose.verdict_rows(hard):
        counted[row.verdict] += 1
    told = [
        (worker, shift)
        for sentence in limit_sentences.limit_sentences(hard)
        for worker, shift in re.findall(r"(W-\d+)\u00a0\((S-\d+)\)", sentence.words)
    ]
    assert len(told) == sum(counted.values())


def test_the_tallies_count_every_row(hard):
    counted = {word: int(n) for word, n, kind in record_data(hard)["tallies"] if kind == "verdict"}
    rows = [row.verdict for row in compose.verdict_rows(hard)]
    assert counted == {word: rows.count(word) for word in ("over", "cannot tell", "under")}


def test_every_step_behind_every_result_is_printed(hard, hard_text):
    for sample in hard.samples:
        last = sample.ppm or sample.concentration
        if last is None:
            continue
        for step in working(last).steps:
            assert squeezed(step.result) in hard_text
            assert squeezed(step.expression) in hard_text


def test_no_result_has_two_signs(hard_text):
    assert not re.search(r"=[=<≥]", hard_text)


def test_steps_refer_only_to_earlier_steps_that_say_what_they_quote(hard):
    results = {}
    data = record_data(hard)
    for section in data["worked_samples"] + data["worked_shifts"]:
        for part in section["parts"]:
            for step in part["steps"]:
                for _, text, origin in step["terms"]:
                    found = re.fullmatch(r"step (\d+)", origin)
                    if found:
                        assert results[found.group(1)] == text
                assert step["number"] not in results
                results[step["number"]] = step["result"]
    assert list(results) == [str(n) for n in range(1, len(results) + 1)]


def test_it_says_how_it_was_made(hard, hard_text):
    assert hard.survey.input_sha256
    assert hard.survey.input_sha256 in hard_text
    assert hard.kernel_version in hard_text
    assert squeezed("Made as, not certified") in hard_text
    assert squeezed("Confirm each with its authority") in hard_text


def test_the_same_input_gives_the_same_bytes_in_another_process(tmp_path):
    script = (
        "from pathlib import Path; from lapel.assessment.survey import assess; "
        "from lapel.exchange.survey_folder import read_survey; "
        "from lapel.documents.assessment_record import write_assessment_record; "
        f"write_assessment_record(assess(read_survey(Path({str(EXAMPLES / 'small')!r}))), Path('out.pdf'))"
    )
    made = []
    for seed in ("1", "2"):
        folder = tmp_path / seed
        folder.mkdir()
        subprocess.run([sys.executable, "-c", script], cwd=folder, env={"PYTHONHASHSEED": seed}, check=True)
        made.append((folder / "out.pdf").read_bytes())
    assert made[0] == made[1]


def test_hostile_texts_are_printed_literally(tmp_path):
    survey = read_survey(EXAMPLES / "small")
    first = next(iter(survey.shifts))
    shifts = {**survey.shifts, first: replace(survey.shifts[first], respirator=HOSTILE[2], unsampled_reason=HOSTILE[6])}
    key = next(iter(survey.agents))
    hostile = replace(
        survey,
        title=HOSTILE[0],
        prepared_by=HOSTILE[1],
        purpose=HOSTILE[5],
        site=replace(survey.site, name=HOSTILE[3], area_class=HOSTILE[4]),
        shifts=shifts,
        agents={**survey.agents, key: replace(survey.agents[key], name=HOSTILE[6])},
        limits=tuple(replace(limit, source=HOSTILE[0] + HOSTILE[4]) for limit in survey.limits),
        notes={HOSTILE[1]: HOSTILE[4]},
    )
    path = tmp_path / "hostile.pdf"
    write_assessment_record(assess(hostile), path)
    text = whole_text(path)
    for words in (HOSTILE[0], HOSTILE[1], HOSTILE[2], HOSTILE[4], HOSTILE[5], HOSTILE[6]):
        assert squeezed(printable(words)) in text
    assert "".join(reversed(squeezed(HOSTILE[3]))) in text  # right to left: drawn from its last letter


def test_a_large_survey_works_only_what_must_be_looked_at_and_says_so(hard, tmp_path, monkeypatch):
    monkeypatch.setattr("lapel.documents.assessment_record.MOST_WORKED", 5)
    data = record_data(hard)
    worked = {section["title"] for section in data["worked_samples"]}
    looked_at = samplers_to_look_at(hard)
    assert worked < looked_at
    assert len(worked) == 5
    assert f"{len(looked_at)} are not sound" in data["left_out"]
    assert "the first 5 of these" in data["left_out"]
    assert "lapel show-working" in data["left_out"]
    assert data["long_shifts"]["rows"]
    path = tmp_path / "large.pdf"
    write_assessment_record(hard, path)
    text = whole_text(path)
    assert squeezed(data["left_out"]) in text
    for row in compose.verdict_rows(hard):
        assert squeezed(f"{row.share}{row.verdict}") in text


def test_a_table_that_is_cut_is_said_on_the_first_page(hard, monkeypatch):
    monkeypatch.setattr("lapel.documents.assessment_record.MOST_ROWS", 3)
    data = record_data(hard)
    assert len(data["pumps"]) == 3
    assert (
        f"“Pumps” shows the first 3 of {len(hard.survey.pumps)} rows; the survey's own files hold all."
        in data["cautions"]
    )


def test_every_void_or_open_sampler_is_one_to_look_at(hard):
    looked_at = samplers_to_look_at(hard)
    assert {sample.sampler for sample in hard.samples if sample.standing.level != "sound"} <= looked_at
    for result in hard.shifts:
        if any(verdict.comparison.verdict != "under" for verdict in result.verdicts):
            assert {sample.sampler for sample in result.samples} <= looked_at


@pytest.mark.parametrize("place", ["missing/record.pdf", "folder"])
def test_a_place_that_cannot_be_written_is_named_and_nothing_is_left(hard, tmp_path, place):
    (tmp_path / "folder").mkdir()
    with pytest.raises(DocumentNotWritten, match="Cannot write"):
        write_assessment_record(hard, tmp_path / place)
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]
    assert not list((tmp_path / "folder").iterdir())


def test_progress_is_told(hard, tmp_path):
    told = []
    write_assessment_record(
        hard, tmp_path / "a.pdf", progress=lambda what, done, total: told.append((what, done, total))
    )
    assert told[-1][1] == told[-1][2]
    assert "setting the record" in {what for what, _, _ in told}
