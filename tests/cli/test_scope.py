"""`lapel scope`: agents by name, number or pasted list; limits side by side; what comes near is asked."""

import pytest

from lapel.assessment.scope import arguments_for, asked_lines, scope
from lapel.cli.main import main
from lapel.reference import Limit, Source, Substance, library

SHEET = """\
3.2 Mixtures
Toluene   CAS-No.: 108-88-3   EC-No.: 203-625-9   REACH No. 01-2119471310-51   >= 30 - < 50 %
* 2-Butanone; 78-93-3; 201-159-0; 10-25 %
ethylbenzene\t100-41-4\t5 %
n-Hexane 110-54-3 203-777-6 601-037-00-0 1 - 2.5
"""


def shown(capsys, monkeypatch, *arguments):
    monkeypatch.setenv("COLUMNS", "200")
    code = main(["scope", *arguments])
    return code, capsys.readouterr().out


def test_a_pasted_list_gives_numbers_and_names_without_shares_and_other_registers():
    lines = asked_lines([SHEET])
    assert [(line.numbers, line.name) for line in lines[1:]] == [
        (("108-88-3",), "Toluene"),
        (("78-93-3",), "2-Butanone"),
        (("100-41-4",), "ethylbenzene"),
        (("110-54-3",), "n-Hexane"),
    ]


@pytest.mark.parametrize("text", ["toluene", "108-88-3", "Toluol", "methyl-benzene"])
def test_name_synonym_and_number_lead_to_the_same_substance(text):
    (found,) = scope(asked_lines([text]), library())
    assert found.substance.cas == "108-88-3"
    assert found.question == ""


def test_a_close_match_is_a_question_and_nothing_is_chosen(capsys, monkeypatch):
    (found,) = scope(asked_lines(["tolune"]), library())
    assert found.substance is None
    assert found.limits == ()
    code, text = shown(capsys, monkeypatch, "tolune")
    assert code == 1
    assert "Do you mean Toluene (108-88-3)?" in text
    assert "US-OSHA" not in text


def test_a_number_with_a_slip_of_the_pen_is_a_question():
    """CAS check digit: 1*8 + 2*8 + 3*8 + 4*0 + 5*1 = 53, so 108-88-3 and not 108-88-4."""
    (found,) = scope(asked_lines(["108-88-4"]), library())
    assert found.substance is None
    assert "check digit does not fit" in found.question


def test_a_name_that_is_another_substance_than_the_number_is_asked():
    (found,) = scope(asked_lines(["Benzene 108-88-3"]), library())
    assert found.substance.name == "Toluene"
    assert "which is meant?" in found.question


def test_a_number_with_a_slip_beside_a_known_name_is_asked_by_the_name():
    """n-Hexane is 110-54-3; the number of the line fails its check digit."""
    (found,) = scope(asked_lines(["n-Hexane   110-54-4   203-777-6   1 - 2.5 %"]), library())
    assert found.substance is None
    assert "check digit does not fit" in found.question
    assert "is n-Hexane (110-54-3): is that meant?" in found.question
    assert [near.substance.cas for near in found.candidates] == ["110-54-3"]


@pytest.mark.parametrize(
    ("line", "is_heading"),
    [
        ("SECTION 3: Composition/information on ingredients", True),
        ("3.2 Mixtures", True),
        ("Chemical name   CAS No.   EC No.   Conc. % (w/w)   Classification", True),
        ("Proprietary resin, CAS No.: trade secret", False),
        ("3-Ethoxy-something unknown", False),
    ],
)
def test_a_heading_of_the_sheet_is_said_to_be_one_and_an_unknown_ingredient_is_not(line, is_heading):
    (found,) = scope(asked_lines([line]), library())
    assert found.substance is None
    assert ("reads like a heading" in found.question) == is_heading


def test_every_packaged_limit_is_shown_with_its_day(capsys, monkeypatch):
    code, text = shown(capsys, monkeypatch, "toluene")
    assert code == 0
    rows = library().limits_for("108-88-3")
    assert len(rows) > 4
    for limit in rows:
        day = limit.source.as_of.isoformat() if limit.source.as_of else "undated"
        assert any(
            limit.authority in line and limit.limit_type in line and f"{limit.value:g}" in line and day in line
            for line in text.splitlines()
        ), limit


def test_law_binds_first_and_the_stricter_guide_value_is_named():
    """Benzene: 29 CFR 1910.1028 prints 1 ppm; the NIOSH recommendation is 0.1 ppm."""
    shelves = library()
    shift = next(
        a for a in arguments_for(shelves.limits_for("71-43-2"), shelves.substance("benzene")) if a.about == "shift"
    )
    assert (shift.binding.authority, shift.binding.value, shift.binding.unit) == ("US-OSHA", 1.0, "ppm")
    assert (shift.stricter.authority, shift.stricter.value) == ("US-NIOSH", 0.1)


def test_a_list_in_a_file_is_read_as_its_lines(tmp_path, capsys, monkeypatch):
    file = tmp_path / "section-3.txt"
    file.write_text(SHEET, encoding="utf-8")
    code, text = shown(capsys, monkeypatch, str(file))
    assert code == 1  # the heading is no substance, and is asked
    for name in ("Toluene", "2-Butanone", "Ethylbenzene"):
        assert f"{name}  CAS" in text


def test_nothing_to_look_up_is_said(capsys):
    assert main(["scope", "..."]) == 2
    assert "Found no name and no CAS number" in capsys.readouterr().err


def printed(authority, value, kind="TWA-8h", *, unit="mg/m3"):
    where = "United States, law" if authority == "US-OSHA" else "guide"
    source = Source("a list", "", None, None, "", "")
    return Limit("1-11-1", authority, where, kind, value, unit, None, "", "", "", "", source)


def argued(*limits, here="US"):
    substance = Substance("1-11-1", "Thing", "", 100.0, (), "vapour", Source("a list", "", None, None, "", ""))
    return {found.about: found for found in arguments_for(limits, substance, here=here)}


@pytest.mark.parametrize("turned", [False, True])
def test_of_two_limits_that_are_law_the_lower_binds_whatever_their_order(turned):
    limits = [printed("US-OSHA", 100.0), printed("US-OSHA", 10.0), printed("US-NIOSH", 40.0)]
    found = argued(*(reversed(limits) if turned else limits))["shift"]
    assert (found.binding.value, found.stricter) == (10.0, None)
    assert "No other packaged limit is stricter." in found.words


def test_a_guide_value_is_stricter_only_below_what_binds():
    limits = [printed("US-OSHA", 10.0), printed("US-NIOSH", 20.0), printed("US-NIOSH", 5.0)]
    found = argued(*limits)["shift"]
    assert (found.binding.value, found.stricter.value) == (10.0, 5.0)


def test_a_ceiling_does_not_answer_for_a_short_term_limit():
    found = argued(printed("US-OSHA", 30.0, "STEL-15min"), printed("US-OSHA", 3.0, "ceiling"))
    assert (found["short term"].binding.value, found["ceiling"].binding.value) == (30.0, 3.0)


def test_limits_in_two_units_are_put_in_order_as_mass():
    """100 g/mol at 24.45 L/mol: 1 ppm is 4.09 mg/m3, above 3 mg/m3 though its figure is lower."""
    found = argued(printed("US-OSHA", 1.0, unit="ppm"), printed("US-OSHA", 3.0))["shift"]
    assert (found.binding.value, found.binding.unit) == (3.0, "mg/m3")
