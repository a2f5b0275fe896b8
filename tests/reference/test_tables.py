"""The packaged tables hold together, and a user's own are read with all their faults at once."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import date
from pathlib import Path
from urllib.parse import urlparse

import pytest

from lapel.reference import CONFIRM, Source, UnusableFileError, library, notification_rules, tables
from lapel.reference.tables import KEYS_WITHOUT_CAS, cas_check_digit_holds

# Abridged standard atomic weights, IUPAC/CIAAW 2021 (conventional values where the weight is an interval).
ATOMIC_WEIGHT = {
    "H": 1.008, "Be": 9.0122, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990, "Si": 28.085, "P": 30.974,
    "S": 32.06, "Cl": 35.45, "Cr": 51.996, "Mn": 54.938, "Fe": 55.845, "Co": 58.933, "Ni": 58.693, "Cu": 63.546,
    "Zn": 65.38, "As": 74.922, "Cd": 112.41, "Pb": 207.2,
}  # fmt: skip
AUTHORITY_PAGES = {
    "www.cdc.gov", "www.osha.gov", "osha.gov", "data.europa.eu", "www.legislation.gov.uk", "legislation.gov.uk",
    "apps.leg.wa.gov", "lawfilesext.leg.wa.gov",
}  # fmt: skip
ALL_ROWS = [
    *tables.substances(), *tables.limits(), *tables.methods(), *tables.method_names(), *notification_rules(),
]  # fmt: skip


def molar_mass(formula: str) -> float:
    parts = re.findall(r"([A-Z][a-z]?)(\d*)", formula)
    assert "".join(element + count for element, count in parts) == formula
    return sum(ATOMIC_WEIGHT[element] * int(count or 1) for element, count in parts)


@pytest.mark.parametrize(
    ("cas", "holds"),
    [("108-88-3", True), ("71-43-2", True), ("7732-18-5", True), ("108-88-4", False), ("108883", False)],
)
def test_cas_check_digit(cas: str, holds: bool):
    """CAS's own example, water 7732-18-5: (8·1 + 1·2 + 2·3 + 3·4 + 7·5 + 7·6) mod 10 = 5."""
    assert cas_check_digit_holds(cas) is holds


def test_every_cas_number_has_its_check_digit_and_every_key_is_known():
    for row in tables.substances():
        assert row.cas in KEYS_WITHOUT_CAS or cas_check_digit_holds(row.cas), row.cas


def test_a_substance_stands_once_with_the_mass_of_its_formula():
    rows = tables.substances()
    assert len({row.cas for row in rows}) == len(rows) == 102
    for row in rows:
        assert bool(row.formula) == (row.molar_mass is not None), row.name
        if row.molar_mass is not None:
            assert row.molar_mass == pytest.approx(molar_mass(row.formula), abs=0.01), row.name
        assert row.physical_form in {"vapour", "gas", "particulate", "both"}


def test_every_row_names_source_edition_and_the_day_it_was_read():
    for row in ALL_ROWS:
        source = row.source
        assert source.citation.strip()
        assert source.edition.strip()
        assert source.read_on == date(2026, 11, 24)
        assert source.as_of is None or source.as_of <= source.read_on
        assert not source.own


def test_a_row_points_to_an_authority_or_says_that_a_copy_was_read():
    for row in ALL_ROWS:
        if row.source.url:
            assert urlparse(row.source.url).hostname in AUTHORITY_PAGES
            assert row.source.read_from == "stored copy of the authority's page"
        elif row not in tables.substances():
            assert row.source.read_from == "a copy"
            assert "read from a copy" in str(row.source)


def test_a_source_is_shown_with_its_age_and_the_advice_to_confirm():
    for row in tables.limits():
        assert re.search(
            r"as of (\d{4}-\d\d-\d\d|unknown date)", str(row.source).replace("of unknown", "as of unknown")
        )
        assert str(row.source).endswith(CONFIRM)


def test_every_row_is_about_a_known_substance():
    known = {row.cas for row in tables.substances()}
    for row in (*tables.limits(), *tables.methods(), *tables.method_names()):
        assert row.cas in known


def test_limits_have_a_number_unless_their_authority_prints_none():
    seen = set()
    for row in tables.limits():
        assert row.authority in {"US-OSHA", "US-NIOSH", "EU", "UK"}
        assert row.fraction in {"", "inhalable", "respirable", "total", "vapour"}
        if row.limit_type == "no-numeric-limit":
            assert (row.value, row.unit) == (None, "")
        else:
            assert row.value is not None
            assert row.value > 0.0
        assert row not in seen
        seen.add(row)


def test_the_packaged_lists_hold_no_list_under_copyright():
    for row in tables.limits():
        text = f"{row.authority} {row.source.citation} {row.note}"
        assert not re.search(r"\b(ACGIH|TLV|MAK|DFG)\b", text)


DISAGREEING_PAIRS = 10
"""ppm and mg/m3 of one printed limit that do not agree at 25 °C; the authority's rounding or its own temperature."""


def half_step(value: float) -> float:
    """Half of the last significant place of a printed figure (2400 to 50)."""
    text = f"{value:g}"
    if "." in text:
        return 0.5 * 10.0 ** -len(text.split(".")[1])
    return 0.5 * 10.0 ** (len(text) - len(text.rstrip("0")))


def disagreeing_pairs() -> list[tuple[str, float, float, float]]:
    mass = {row.cas: row.molar_mass for row in tables.substances()}
    pairs: dict[tuple[object, ...], dict[str, list[tuple[float, str]]]] = {}
    for row in tables.limits():
        if row.value is not None and mass[row.cas]:
            key = (row.cas, row.authority, row.limit_type, row.averaging_min, row.fraction, row.source.citation)
            pairs.setdefault(key, {}).setdefault(row.unit, []).append((row.value, row.note))
    off = []
    for key, units in pairs.items():
        if len(units.get("ppm", [])) == len(units.get("mg/m3", [])) == 1:
            (ppm, ppm_note), (mg, mg_note) = units["ppm"][0], units["mg/m3"][0]
            expected = ppm * float(mass[str(key[0])] or 0.0) / 24.45
            slack = half_step(mg) + half_step(ppm) / ppm * expected * 0.1
            if abs(expected - mg) > max(slack, 0.02 * expected):
                off.append((f"{key[0]} {key[1]} {key[2]}: {ppm_note} {mg_note}", ppm, mg, expected))
    return off


def test_printed_pairs_that_disagree_at_25_degrees_are_known_and_say_so():
    off = disagreeing_pairs()
    assert len(off) == DISAGREEING_PAIRS, off
    for where, ppm, mg, expected in off:
        assert re.search(r"agree|25 C|20 C|mg/m3", where), (where, ppm, mg, expected)


def test_a_medium_is_one_tube():
    sizes: dict[str, set[tuple[float | None, float | None]]] = {}
    for row in tables.methods():
        if row.sorbent_front_mg:
            sizes.setdefault(row.media_key, set()).add((row.sorbent_front_mg, row.sorbent_back_mg))
    assert all(len(found) == 1 for found in sizes.values())
    keys = [(row.method_id, row.cas) for row in tables.methods()]
    assert len(keys) == len(set(keys)) == 119


@pytest.mark.parametrize(
    ("cas", "authority", "kind", "unit", "value"),
    [
        ("75-09-2", "US-OSHA", "TWA-8h", "ppm", 25.0),  # 29 CFR 1910.1052(c)(1)
        ("50-00-0", "US-OSHA", "TWA-8h", "ppm", 0.75),  # 29 CFR 1910.1048(c)(1)
        ("50-00-0", "US-OSHA", "action-level", "ppm", 0.5),  # 29 CFR 1910.1048(b)
        ("106-99-0", "US-OSHA", "STEL-15min", "ppm", 5.0),  # 29 CFR 1910.1051
    ],
)
def test_limits_are_those_of_the_regulation(cas: str, authority: str, kind: str, unit: str, value: float):
    rows = [r for r in library().limits_for(cas, authority=authority) if (r.limit_type, r.unit) == (kind, unit)]
    assert value in [row.value for row in rows]


def test_notification_rules_are_there_with_their_days():
    rows = {(row.standard, row.industry): row for row in notification_rules()}
    assert len(rows) >= 15
    lead = rows[("29 CFR 1926.62(d)(8)", "construction")]
    assert (lead.days, lead.kind_of_day, lead.trigger) == (5, "working", "completion of the exposure assessment")
    assert any(row.days is None for row in notification_rules())


def test_nothing_is_read_on_import():
    code = (
        "import builtins, io, sys, pathlib; "
        "seen = []; "
        "sys.addaudithook(lambda event, args: seen.append(str(args[0])) if event == 'open' else None); "
        "import lapel.reference; "
        "print([name for name in seen if name.endswith(('.csv', '.toml'))], 'jsonschema' in sys.modules)"
    )
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[] False"


OWN_LIMITS = """cas,authority,limit_type,value,unit,averaging_minutes,source,as_of
108-88-3,House,TWA-8h,20,ppm,480,"house list, page 3",2026-01-15
"""


def test_own_limits_stand_beside_the_packaged_ones(tmp_path: Path):
    file = tmp_path / "limits.csv"
    file.write_text(OWN_LIMITS, encoding="utf-8")
    packaged = library().limits_for("108-88-3")
    rows = library(own_limits=[file]).limits_for("108-88-3")
    assert rows[1:] == packaged
    assert (rows[0].value, rows[0].source.own, rows[0].source.as_of) == (20.0, True, date(2026, 1, 15))
    assert str(rows[0].source) == "house list, page 3; as of 2026-01-15; confirm with the authority"
    assert library().limits_for("108-88-3") == packaged


def test_own_substances_and_methods_stand_beside_the_packaged_ones(tmp_path: Path):
    substances, methods = tmp_path / "substances.csv", tmp_path / "methods.csv"
    substances.write_text(
        "cas,name,formula,molar_mass_g_per_mol,synonyms,source,as_of\n"
        "111-90-0,2-(2-Ethoxyethoxy)ethanol,C6H14O3,134.175,ethyldiglycol,safety data sheet,2026-02-01\n",
        encoding="utf-8",
    )
    methods.write_text(
        "method_id,issuer,cas,sampler_description,media_key,flow_min_lpm,flow_max_lpm,source,as_of\n"
        "H-12,House laboratory,111-90-0,charcoal tube,charcoal-100-50,0.05,0.2,laboratory letter,2026-02-01\n",
        encoding="utf-8",
    )
    own = library(own_substances=[substances], own_methods=[methods])
    assert own.substance("Ethyldiglycol").molar_mass == 134.175
    assert [row.method_id for row in own.methods_for("111-90-0")] == ["H-12"]
    with pytest.raises(LookupError, match="no substance “ethyldiglycol” is known"):
        library().substance("ethyldiglycol")


def test_all_faults_of_an_own_table_are_told_at_once(tmp_path: Path):
    file = tmp_path / "limits.csv"
    file.write_text(
        "cas,authority,limit_type,value,unit,source,as_of\n"
        "108-88-4,House,TWA-8h,20,ppm,list,2026-01-15\n"
        '108-88-3,House,TWA-8h,"0,5",ppm,list,15.01.2026\n'
        "108-88-3,House,TWA,-3,mg,,2026-01-15\n"
        "108-88-3,House,TWA-8h,nan,ppm,list\n"
        "toluene,House,TWA-8h,20,ppm,list,2026-01-15\n"
        "RESIN-7,House,TWA-8h,20,ppm,list,2026-01-15\n",
        encoding="utf-8",
    )
    with pytest.raises(UnusableFileError) as caught:
        library(own_limits=[file])
    told = [(fault.where.split(", ", 1)[1], fault.found) for fault in caught.value.faults]
    assert told == [
        ("row 2, column “cas”", "“108-88-4”"),
        ("row 3, column “value”", "“0,5”"),
        ("row 3, column “as_of”", "“15.01.2026”"),
        ("row 4, column “source”", "“”"),
        ("row 4, column “limit_type”", "“TWA”"),
        ("row 4, column “value”", "“-3”"),
        ("row 4, column “unit”", "“mg”"),
        ("row 5", "6 cells"),
        ("row 6, column “cas”", "“toluene”"),
    ]
    assert all(fault.wanted and fault.remedy for fault in caught.value.faults)


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"cas,authority,limit_type,value,unit,source\n", "no column “as_of”"),
        (b"cas,authority,limit_type,value,unit,source,as_of,colour\n", "a column “colour”"),
        (b"cas,cas,authority,limit_type,value,unit,source,as_of\n", "column “cas” more than once"),
        (b"", "no column “cas”"),
        (b"cas,authority\n\xff\xfe", "bytes that are no UTF-8"),
    ],
)
def test_a_table_that_is_none_is_refused_with_the_reason(tmp_path: Path, content: bytes, match: str):
    file = tmp_path / "limits.csv"
    file.write_bytes(content)
    with pytest.raises(UnusableFileError, match=match):
        library(own_limits=[file])


def test_a_table_that_is_not_there_is_named():
    with pytest.raises(UnusableFileError, match=r"nowhere\.csv: found No such file or directory"):
        library(own_limits=["nowhere.csv"])


def test_a_source_of_unknown_date_says_so():
    source = Source("a regulation", "undated copy", None, date(2026, 11, 24), "a copy", "")
    assert str(source) == ("a regulation; of unknown date (undated copy); read from a copy; confirm with the authority")
