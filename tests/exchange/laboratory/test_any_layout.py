"""Sixty drawn layouts and the nasty ones made by hand: read right, or stopped with a question; never another number."""

import io
from decimal import Decimal

import openpyxl
import pytest
from writer_of_reports import NAMES, drawn_style, expected, true_rows, written

from lapel.exchange.laboratory import empty_map, propose, read_content, with_answer
from lapel.exchange.laboratory.role_words import plain_words

FACTS = {"report.code", "laboratory", "report.received_on", "recovery_corrected_by", "blank_corrected_by"}
EXPECTED = expected()
SEEDS = range(60)


def agrees(value, true):
    return value is not None and abs(value - float(true)) <= 1e-9 * float(true)


def differing(proposal, truth, style):
    """Results that say something else than was written; those not read are not among them."""
    wrong = []
    for result in proposal.results:
        row = truth.rows.get((result.sampler, result.agent))
        if row is None:
            wrong.append(result)
            continue
        fits = agrees(result.front_ug, row.front) and result.front_below == row.front_below
        if style.two_sections:
            fits = fits and agrees(result.back_ug, row.back) and result.back_below == row.back_below
        if result.volume_l is not None:
            fits = fits and agrees(result.volume_l, row.volume)
        if result.analysed_on is not None:
            fits = fits and result.analysed_on == row.analysed
        if result.reporting_limit_ug is not None:
            fits = fits and agrees(result.reporting_limit_ug, row.limit)
        if not fits:
            wrong.append(result)
    return wrong


def answered(proposal, style):
    """What the laboratory's own people would answer."""
    given = proposal.report_map
    names = {plain_words(name): key for key, name in NAMES[style.language].items()}
    for question in proposal.questions:
        kind, _, rest = question.key.partition(".")
        if kind == "agents" and plain_words(rest) in names:
            given = with_answer(given, question.key, names[plain_words(rest)])
        elif kind == "decimal_mark":
            given = with_answer(given, question.key, "comma" if style.comma else "point")
        elif kind == "reporting_limits":
            given = with_answer(given, question.key, {"toluene": "2 ug", "n-hexane": "4 ug", "benzene": "0.5 ug"}[rest])
        elif kind == "units":
            given = with_answer(given, question.key, style.unit)
        elif kind == "day_order":
            given = with_answer(given, question.key, "day first" if style.days == "dmy" else "month first")
    return given


@pytest.mark.parametrize("seed", SEEDS)
def test_a_drawn_layout_is_read_right_or_asked_about(seed):
    style = drawn_style(seed)
    try:
        name, content, truth = written(style, true_rows(seed))
    except UnicodeEncodeError:
        pytest.skip("these letters do not exist in that character set")
    file = read_content(name, content)
    first = propose(file, EXPECTED, empty_map())
    assert differing(first, truth, style) == []
    open_questions = {question.key for question in first.questions} - FACTS
    if not open_questions:
        assert {(r.sampler, r.agent) for r in first.results} == set(truth.rows)
    second = propose(file, EXPECTED, answered(first, style))
    third = propose(file, EXPECTED, answered(second, style))
    assert differing(third, truth, style) == []
    if {question.key for question in third.questions} <= FACTS:
        assert {(r.sampler, r.agent) for r in third.results} == set(truth.rows)


def test_most_drawn_layouts_need_no_question_and_nearly_all_none_after_the_obvious_answers():
    """Of the sixty: at least half are read at once; at least nine in ten once names, marks and units are answered."""
    at_once = after = 0
    for seed in SEEDS:
        style = drawn_style(seed)
        name, content, _ = written(style, true_rows(seed))
        file = read_content(name, content)
        first = propose(file, EXPECTED, empty_map())
        at_once += {q.key for q in first.questions} <= FACTS
        third = propose(file, EXPECTED, answered(propose(file, EXPECTED, answered(first, style)), style))
        after += {q.key for q in third.questions} <= FACTS
    assert at_once >= 30
    assert after >= 54


# by hand ---------------------------------------------------------------------------------------------------------


def read(text, name="report.csv", encoding="utf-8", answers=()):
    given = empty_map()
    for key, value in answers:
        given = with_answer(given, key, value)
    return propose(read_content(name, text.encode(encoding)), EXPECTED, given)


def keys(proposal):
    return {question.key for question in proposal.questions} - FACTS


def masses(proposal):
    return {(r.sampler, r.agent): (r.front_ug, r.front_below) for r in proposal.results}


def test_one_thousand_two_hundred_or_one_point_two_is_asked_with_both_readings():
    """No other cell shows what the mark means."""
    text = 'Sample,Analyte,"Mass, ug"\nK-101,Toluene,"1,234"\nK-102,Toluene,"2,345"\n'
    proposal = read(text)
    (question,) = [q for q in proposal.questions if q.key == "decimal_mark"]
    assert "1234 or 1.234" in question.asks
    assert [choice.answer for choice in question.choices] == ["point", "comma"]
    assert proposal.results == ()
    assert masses(read(text, answers=[("decimal_mark", "comma")]))["K-101", "toluene"] == (1.234, False)
    assert masses(read(text, answers=[("decimal_mark", "point")]))["K-101", "toluene"] == (1234.0, False)


def test_a_thousands_mark_is_believed_only_where_the_file_shows_one():
    decided = 'Sample,Analyte,"Mass, ug"\nK-101,Toluene,"1,234"\nK-102,Toluene,"12,345.6"\n'
    assert masses(read(decided))["K-101", "toluene"] == (1234.0, False)
    open_file = 'Sample,Analyte,"Mass, ug"\nK-101,Toluene,"1,234"\nK-102,Toluene,0.52\n'
    assert keys(read(open_file)) == {"decimal_mark"}


def test_the_third_of_april_or_the_fourth_of_march_is_asked():
    text = "Sample,Analyte,Mass (ug),Date analysed\nK-101,Toluene,12,03/04/2026\nK-102,Toluene,13,05/04/2026\n"
    assert keys(read(text)) == {"day_order"}
    proposal = read(text, answers=[("day_order", "day first")])
    assert [r.analysed_on.isoformat() for r in proposal.results] == ["2026-04-03", "2026-04-05"]


def test_one_day_beyond_the_twelfth_settles_the_order_of_all():
    text = "Sample,Analyte,Mass (ug),Date analysed\nK-101,Toluene,12,03/04/2026\nK-102,Toluene,13,25/04/2026\n"
    proposal = read(text)
    assert keys(proposal) == set()
    assert [r.analysed_on.isoformat() for r in proposal.results] == ["2026-04-03", "2026-04-25"]
    assert any("25/04/2026" in remark for remark in proposal.remarks)


@pytest.mark.parametrize("lost", ["?g", "\ufffdg", "Âg"])
def test_a_unit_that_lost_its_first_letter_is_asked(lost):
    """µg and mg look the same then."""
    proposal = read(f"Sample,Analyte,Mass ({lost})\nK-101,Toluene,12\n")
    (question,) = [q for q in proposal.questions if q.key == "units.mass"]
    assert "lost" in question.asks
    assert proposal.results == ()


def test_a_micro_sign_read_in_the_wrong_character_set_is_still_a_micro_sign():
    assert masses(read("Sample,Analyte,Mass (Âµg)\nK-101,Toluene,12\n"))["K-101", "toluene"] == (12.0, False)


def test_masses_without_a_unit_are_asked_about():
    assert keys(read("Sample,Analyte,Mass\nK-101,Toluene,12\n")) == {"units.mass"}
    proposal = read("Sample,Analyte,Mass\nK-101,Toluene,12\n", answers=[("units.mass", "mg")])
    assert masses(proposal)["K-101", "toluene"] == (12000.0, False)


def test_another_substance_with_our_agent_in_its_name_is_not_our_agent():
    """Ethylbenzene, chlorobenzene: “benzene” is part of the word or stands beside another."""
    text = "Sample,Analyte,Mass (ug)\nK-101,Benzene,12\nK-101,Toluene,5\nK-101,n-Hexane,7\nK-101,Ethyl benzene,99\n"
    proposal = read(text)
    assert masses(proposal)["K-101", "benzene"] == (12.0, False)
    assert any("Ethyl benzene" in row.cells for row in proposal.left_out)


def test_an_agent_column_of_a_foreign_name_is_asked_and_never_given_to_its_neighbour():
    text = "Sample,Toluene (ug),Ethyl benzene (ug)\nK-101,12,99\nK-102,13,98\n"
    proposal = read(text)
    assert masses(proposal)["K-101", "toluene"] == (12.0, False)
    assert all(result.front_ug != 99.0 for result in proposal.results)
    assert any(key.startswith(("agents.ethyl", "columns.")) for key in keys(proposal))


def test_a_name_and_a_cas_number_that_disagree_are_asked():
    proposal = read("Sample,Analyte,CAS,Mass (ug)\nK-101,Toluene,71-43-2,12\n")
    assert keys(proposal) == {"agents.Toluene"}


def test_letters_beside_a_number_are_what_they_mean_in_public_guides():
    """U: not detected at the limit beside it; J: an estimate. US EPA functional guidelines for data review."""
    text = "Sample,Analyte,Mass (ug)\nK-101,Toluene,0.5 U\nK-102,Toluene,0.8 J\nK-103,Toluene,12 B\n"
    proposal = read(text)
    assert masses(proposal) == {
        ("K-101", "toluene"): (0.5, True), ("K-102", "toluene"): (0.8, False), ("K-103", "toluene"): (12.0, False),
    }  # fmt: skip
    assert [r.flags for r in proposal.results] == [("U",), ("J",), ("B",)]


def test_a_word_nobody_has_explained_is_asked_once():
    text = "Sample,Analyte,Mass (ug)\nK-101,Toluene,see note\nK-102,Toluene,see note\nK-103,Toluene,4\n"
    proposal = read(text)
    assert keys(proposal) == {"words.see note"}
    settled = read(text, answers=[("words.see note", "not analysed")])
    assert keys(settled) == set()
    assert [r.not_analysed for r in settled.results if r.front_ug is None] == ["see note", "see note"]


def test_not_detected_without_a_limit_is_no_zero():
    text = "Sample,Analyte,Mass (ug)\nK-101,Toluene,ND\nK-102,Toluene,4\n"
    assert keys(read(text)) == {"reporting_limits.toluene"}
    assert masses(read(text, answers=[("reporting_limits.toluene", "0.002 mg")]))["K-101", "toluene"] == (2.0, True)


def test_a_least_value_is_never_taken_as_the_value():
    proposal = read("Sample,Analyte,Mass (ug)\nK-101,Toluene,>5000\nK-102,Toluene,4\n")
    assert ("K-101", "toluene") not in masses(proposal)
    assert len(keys(proposal)) == 1


def test_a_negative_mass_is_asked_about():
    assert len(keys(read("Sample,Analyte,Mass (ug)\nK-101,Toluene,-0.3\nK-102,Toluene,4\n"))) == 1


def test_a_total_is_no_sample_and_is_named_as_left_out():
    text = "Sample,Analyte,Mass (ug)\nK-101,Toluene,3\nK-102,Toluene,4\nTotal,,7\n"
    proposal = read(text)
    assert len(proposal.results) == 2
    assert [row.why for row in proposal.left_out] == ["a total or other statistic"]


def test_the_same_result_printed_with_two_numbers_is_reported_as_twice():
    proposal = read("Sample,Analyte,Mass (ug)\nK-101,Toluene,3\nK-101,Toluene,4\n")
    assert len(proposal.duplicates) == 1


def test_sections_called_a_and_b_are_asked_about():
    """A and B are sections in one house, ports in another and duplicates in a third."""
    text = "Sample,Analyte,Mass (ug)\n" + "".join(
        f"K-{n}{mark},Toluene,{mass}\n" for n in (101, 102) for mark, mass in (("A", 50), ("B", 2))
    )
    proposal = read(text)
    assert {"sections.a", "sections.b"} <= keys(proposal)
    settled = read(text, answers=[("sections.a", "front"), ("sections.b", "back")])
    assert {(r.sampler, r.front_ug, r.back_ug) for r in settled.results} == {("K-101", 50.0, 2.0), ("K-102", 50.0, 2.0)}


def test_concentrations_without_masses_are_made_masses_only_if_a_person_says_so():
    text = "Sample,Analyte,Concentration (mg/m3),Volume (L)\nK-101,Toluene,12.5,8\n"
    assert keys(read(text)) == {"mass_from_concentration"}
    proposal = read(text, answers=[("mass_from_concentration", "yes")])
    assert masses(proposal)["K-101", "toluene"] == (100.0, False)
    assert "worked out here" in proposal.results[0].remark


def test_two_tables_on_one_sheet_with_different_headings_are_both_read():
    text = (
        "Sample,Analyte,Mass (ug)\nK-101,Toluene,3\nK-102,Toluene,4\n\n"
        "Sample,Analyte,Mass (mg)\nK-103,Benzene,0.005\nK-104,Benzene,0.006\n"
    )
    assert masses(read(text))["K-103", "benzene"] == (5.0, False)


def test_results_on_several_sheets_one_agent_each():
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, factor in (("Toluene", 1), ("Benzene", 10)):
        sheet = book.create_sheet(title)
        sheet.append(["Sample", "Result (ug)"])
        sheet.append(["K-101", 3 * factor])
        sheet.append(["K-102", 4 * factor])
    out = io.BytesIO()
    book.save(out)
    proposal = propose(read_content("r.xlsx", out.getvalue()), EXPECTED, empty_map())
    assert masses(proposal)["K-102", "benzene"] == (40.0, False)
    assert masses(proposal)["K-102", "toluene"] == (4.0, False)


def workbook(change):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Sample", "Analyte", "Mass (ug)"])
    sheet.append(["K-101", "Toluene", 0.5])
    sheet.append(["K-102", "Toluene", 12.5])
    change(sheet)
    out = io.BytesIO()
    book.save(out)
    return propose(read_content("r.xlsx", out.getvalue()), EXPECTED, empty_map())


def test_a_less_than_sign_that_only_the_number_format_shows_is_read():
    """A person sees <0.50; the cell stores 0.5."""

    def change(sheet):
        sheet["C2"].number_format = '"<"0.00'

    assert masses(workbook(change))["K-101", "toluene"] == (0.5, True)


def test_a_format_that_hides_small_numbers_is_asked_about():
    def change(sheet):
        sheet["C2"].number_format = '[<1]"<1";0.00'

    proposal = workbook(change)
    assert ("K-101", "toluene") not in masses(proposal)
    assert keys(proposal)


def test_percent_formats_are_percent():
    def change(sheet):
        sheet["D1"] = "Recovery"
        sheet["D2"] = sheet["D3"] = 0.97
        sheet["D2"].number_format = sheet["D3"].number_format = "0%"

    assert {r.recovery for r in workbook(change).results} == {0.97}


def test_a_number_a_spreadsheet_turned_into_a_day_is_asked_about():
    import datetime

    def change(sheet):
        sheet["C2"] = datetime.date(2026, 2, 1)

    proposal = workbook(change)
    assert ("K-101", "toluene") not in masses(proposal)
    assert len(keys(proposal)) == 1


def test_a_formula_without_its_value_is_asked_about_and_never_an_empty_cell():
    def change(sheet):
        sheet["C2"] = "=0.5*2"

    proposal = workbook(change)
    assert ("K-101", "toluene") not in masses(proposal)
    assert any("formula" in question.asks for question in proposal.questions)


def test_hidden_rows_columns_and_sheets_are_read_and_said():
    def change(sheet):
        sheet.row_dimensions[3].hidden = True

    proposal = workbook(change)
    assert masses(proposal)["K-102", "toluene"] == (12.5, False)
    assert any("hidden" in remark for remark in proposal.remarks)


def test_a_file_without_a_table_says_so():
    proposal = read("Dear customer,\nyour results are attached.\n")
    assert proposal.results == ()
    assert any("No table of results" in question.asks for question in proposal.questions)


def test_what_stands_around_the_table_is_found_with_its_place():
    text = (
        "Quarrybank Analytical (invented)\nReport no.:,QB-77\nDate received:,14 April 2026\n"
        "Temperature on receipt:,5.5 °C\n"
        "Results are corrected for desorption efficiency. Blanks were not subtracted. "
        "Expanded uncertainty with k = 2.\n\n"
        "Sample,Analyte,Mass (ug),Uncertainty (%)\nK-101,Toluene,3,12\n"
    )
    facts = read(text).facts
    assert (facts.code, facts.samples_received_on.isoformat()) == ("QB-77", "2026-04-14")
    assert (facts.receipt_temperature, facts.receipt_temperature_unit) == ("5.5", "°C")
    assert (facts.recovery_corrected_by, facts.blank_corrected_by, facts.uncertainty_factor) == (
        "laboratory",
        "nobody",
        2.0,
    )
    assert facts.evidence["recovery_corrected_by"].startswith("row 5:")
    assert read(text).results[0].relative_u == pytest.approx(0.06)


def test_every_row_is_a_result_or_named_as_left_out():
    for seed in range(20):
        style = drawn_style(seed)
        if style.layout != "long" or style.kind != "csv":
            continue
        name, content, truth = written(style, true_rows(seed))
        proposal = propose(read_content(name, content), EXPECTED, empty_map())
        if keys(proposal):
            continue
        (table,) = proposal.tables
        filled = sum(
            1 for row in proposal.file.sheets[0].rows[table.table.first_row - 1 : table.table.last_row] if any(row)
        )
        assert len(proposal.results) + len(proposal.left_out) == filled
        assert Decimal(len(proposal.results)) == len(truth.rows)


def test_a_unit_a_person_said_fills_gaps_and_never_replaces_a_printed_one():
    text = "Sample,Analyte,Result,Unit\nK-101,Toluene,5,mg\nK-102,Toluene,6,\n"
    assert keys(read(text)) == {"units.mass"}
    found = masses(read(text, answers=[("units.mass", "ug")]))
    assert found == {("K-101", "toluene"): (5000.0, False), ("K-102", "toluene"): (6.0, False)}


def test_what_a_report_states_goes_before_what_was_said_of_an_earlier_one():
    text = "All results in mg per tube.\nSample,Analyte,Mass\nK-101,Toluene,5\n"
    assert masses(read(text, answers=[("units.mass", "ug")]))["K-101", "toluene"] == (5000.0, False)


@pytest.mark.parametrize("first", [True, False])
def test_a_row_of_reporting_limits_speaks_for_all_rows(first):
    rows = ["K-101,12,ND", "K-102,ND,3.5"]
    limits = "Reporting limit,2,0.5"
    body = "\n".join([limits, *rows] if first else [*rows, limits])
    proposal = read(f"Sample,Toluene (ug),Benzene (ug)\n{body}\nLOD,0.6,0.1\n")
    assert keys(proposal) == set()
    assert masses(proposal)["K-102", "toluene"] == (2.0, True)
    assert masses(proposal)["K-101", "benzene"] == (0.5, True)
    assert {r.reporting_limit_ug for r in proposal.results} == {2.0, 0.5}
    assert [row.why for row in proposal.left_out] == ["detection limits, which are no reporting limits"]


def test_samples_side_by_side_with_sections_as_rows():
    text = (
        "All results in micrograms\n"
        "Analyte,Section,K-101,K-102,K-103\nToluene,Front,12,<2,30\nToluene,Back,<2,<2,4\nBenzene,Front,<0.5,1.5,3\n"
        "Benzene,Back,<0.5,<0.5,<0.5\n"
    )
    proposal = read(text)
    assert keys(proposal) == set()
    found = {(r.sampler, r.agent): (r.front_ug, r.back_ug, r.back_below) for r in proposal.results}
    assert found["K-103", "toluene"] == (30.0, 4.0, False)
    assert found["K-102", "benzene"] == (1.5, 0.5, True)


def test_a_section_that_is_both_sections_together_is_the_total():
    text = "Sample,Analyte,Section,Result (ug)\nK-101,Toluene,Front,12\nK-101,Toluene,Back,3\nK-101,Toluene,Total,15\n"
    (result,) = read(text).results
    assert (result.front_ug, result.back_ug, result.total_ug) == (12.0, 3.0, 15.0)


def test_utf16_with_tabs_and_a_separator_line_of_a_spreadsheet():
    text = "Sample\tAnalyte\tMass (µg)\nK-101\tToluene\t12\n"
    assert masses(read(text, encoding="utf-16"))["K-101", "toluene"] == (12.0, False)
    assert masses(read("sep=;\nSample;Analyte;Mass (µg)\nK-101;Toluene;0,5\n"))["K-101", "toluene"] == (0.5, False)
