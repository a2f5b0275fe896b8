"""Forms of the scope: a new survey, what to look up, people by code, shifts, one agent."""

from __future__ import annotations

import re
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django import forms

from lapel.records.access import is_free_for_a_survey
from lapel.records.models import Agent, Site
from lapel.reference import PACKAGED, rule_book

_CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
TAKEN_BY_PAGES = ("new",)
"""Words that are addresses of pages, and so no codes of surveys."""

LAW = [
    ("", "not said: all limits are shown"),
    ("US", "the United States"),
    ("EU", "a member state of the European Union"),
    ("elsewhere", "another country, or not packaged"),
]

_DAY = {"type": "date"}


class NewSurveyForm(forms.Form):
    """A survey, on a site that is there or a new one."""

    title = forms.CharField(label="What the survey is called", max_length=300)
    code = forms.CharField(
        label="Short code", max_length=64, help_text="For addresses and papers, as in lacquer-26. It stays."
    )
    purpose = forms.CharField(label="Why it is done, in a sentence", widget=forms.Textarea(attrs={"rows": 2}))
    prepared_by = forms.CharField(label="Who answers for it", max_length=200)
    assessed_on = forms.DateField(
        label="Day it refers to", widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d"),
        help_text="Ages of limits and certificates are counted to it. It can be changed.",
    )  # fmt: skip
    rule_book = forms.ChoiceField(label="Rule book that decides what a sample is worth")
    site = forms.ModelChoiceField(Site.objects.none(), label="Site", required=False, empty_label="a new site, below")
    site_name = forms.CharField(label="Name of the new site", max_length=200, required=False)
    site_zone = forms.ChoiceField(label="Its clock", required=False)
    area_class = forms.CharField(
        label="Explosive-area class, as the site states it", max_length=200, required=False,
        help_text="Empty where there is none. Workers in other areas are named in the plan.",
    )  # fmt: skip

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, forms.ModelChoiceField)
        site.queryset = sites
        zones = sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith(("Etc", "posix")))
        for name, choices in (
            ("rule_book", [("", "Choose"), *((key, rule_book(key).title) for key in PACKAGED)]),
            ("site_zone", [("", "Choose"), *((zone, zone) for zone in (*zones, "UTC"))]),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = choices

    def clean_code(self) -> str:
        """A code that is free and fits an address."""
        code = str(self.cleaned_data["code"]).strip()
        if not _CODE.fullmatch(code) or code in TAKEN_BY_PAGES:
            raise forms.ValidationError(f"Found “{code}”. Wanted letters, digits and . _ -, as in lacquer-26.")
        if not is_free_for_a_survey(code):
            raise forms.ValidationError(f"Found “{code}”, which is taken. Wanted a code of its own.")
        return code

    def clean(self) -> dict[str, Any]:
        """A site that is there, or all of a new one."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not cleaned.get("site"):
            for name, words in (
                ("site_name", "the new site’s name"),
                ("site_zone", "the zone of the clock on its wall"),
            ):
                if not cleaned.get(name) and name not in self.errors:
                    self.add_error(name, f"Found nothing. Wanted {words}, or a site from the list.")
        return cleaned


class LookUpForm(forms.Form):
    """What to look up."""

    text = forms.CharField(
        label="Names, CAS numbers, or the ingredients of a safety data sheet", max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 5, "spellcheck": "false"}),
        help_text="One a line. Paste section 3 of the sheet as it is: shares and other numbers are passed over.",
    )  # fmt: skip
    law = forms.ChoiceField(label="The work is done in", choices=LAW, required=False)


class PeopleForm(forms.Form):
    """A group and its workers by code."""

    group = forms.CharField(
        label="Group’s code", max_length=40, help_text="Short, as in LAC. A group that is there gets more workers."
    )
    name = forms.CharField(label="What the group is called", max_length=200, required=False)
    tasks = forms.CharField(label="What its people do", required=False, widget=forms.Textarea(attrs={"rows": 2}))
    workers = forms.CharField(
        label="Workers by code, never by name", required=False, max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
        help_text="One a line, the job after a comma if you like: L-01, operator. Or a range: L-01 to L-08.",
    )  # fmt: skip

    def clean_group(self) -> str:
        """A code fit for tables."""
        code = str(self.cleaned_data["group"]).strip()
        if not _CODE.fullmatch(code):
            raise forms.ValidationError(f"Found “{code}”. Wanted letters, digits and . _ -, as in LAC.")
        return code

    def clean_workers(self) -> list[tuple[str, str]]:
        """Codes with their jobs; a range is written out."""
        found: dict[str, str] = {}
        for number, line in enumerate(str(self.cleaned_data["workers"]).splitlines(), 1):
            if not line.strip():
                continue
            codes, _, job = (part.strip() for part in line.partition(","))
            for code in _codes(codes, number):
                if code in found:
                    raise forms.ValidationError(f"Line {number}: found {code} twice. Wanted each once.")
                found[code] = job
        return list(found.items())


def codes_in(text: str) -> list[str]:
    """
    Read codes, one a line or a range a line, each once.

    Raises
    ------
    forms.ValidationError
        With the line.
    """
    lines = enumerate(text.splitlines(), 1)
    return list(dict.fromkeys(code for number, line in lines if line.strip() for code in _codes(line.strip(), number)))


def _codes(text: str, number: int) -> list[str]:
    ends = re.split(r"\s+to\s+|\s*…\s*", text)
    for code in ends:
        if not _CODE.fullmatch(code):
            raise forms.ValidationError(
                f"Line {number}: found “{text[:60]}”. Wanted a code without spaces, as in L-01, and no name."
            )
    if len(ends) == 1:
        return ends
    parts = [re.fullmatch(r"(.*?)(\d+)", code) for code in ends]
    if len(ends) > 2 or not all(parts) or parts[0][1] != parts[1][1] or int(parts[1][2]) < int(parts[0][2]):  # type: ignore[index]  # all are there
        raise forms.ValidationError(f"Line {number}: found “{text[:60]}”. Wanted a range as in L-01 to L-08.")
    low, high = parts[0][2], parts[1][2]  # type: ignore[index]  # as above
    if int(high) - int(low) >= 500:
        raise forms.ValidationError(f"Line {number}: found more than 500 codes. Wanted a smaller range.")
    return [f"{parts[0][1]}{n:0{len(low)}d}" for n in range(int(low), int(high) + 1)]  # type: ignore[index]  # as above


class ShiftsForm(forms.Form):
    """Shifts on offer for field work: the same hours on several days."""

    group = forms.ModelChoiceField(Site.objects.none(), label="Worked by", required=False, empty_label="all groups")
    begins = forms.TimeField(label="Shift begins", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    ends = forms.TimeField(
        label="Shift ends", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="An hour before the beginning is on the next day.",
    )  # fmt: skip
    first = forms.DateField(label="First day", widget=forms.DateInput(attrs=_DAY, format="%Y-%m-%d"))
    days = forms.IntegerField(label="How many days", min_value=1, max_value=60, initial=5)
    weekends = forms.BooleanField(label="Saturdays and Sundays too", required=False)

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        group = self.fields["group"]
        assert isinstance(group, forms.ModelChoiceField)
        group.queryset = site.groups.all()


class AgentForm(forms.ModelForm):  # type: ignore[type-arg]  # its model is named below
    """One agent of the survey: what it is, and with which others its effects are added up."""

    effects = forms.CharField(
        label="Effects it shares with other agents", required=False,
        help_text="Parted by semicolons, as in: irritation; nervous system. Agents with the same words are added up.",
    )  # fmt: skip
    effects_source = forms.CharField(
        label="Who says so", required=False, max_length=300,
        help_text="A limit list’s notation, a standard, a toxicologist: with date. No effects are packaged.",
    )  # fmt: skip

    class Meta:
        """Fields of an agent."""

        model = Agent
        fields = ("name", "cas", "molar_mass")
        labels = {"name": "Name", "cas": "CAS number", "molar_mass": "Molar mass, g/mol"}  # noqa: RUF012 - Django's own form

    def clean_effects(self) -> list[str]:
        """Words, each once."""
        text = str(self.cleaned_data["effects"])
        return list(dict.fromkeys(part.strip() for part in text.split(";") if part.strip()))

    def clean(self) -> dict[str, Any]:
        """An effect needs somebody who says so."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("effects") and not cleaned.get("effects_source"):
            self.add_error("effects_source", "Found effects and nobody who says so. Wanted the source, with its date.")
        return cleaned


def zone_of(site: Site) -> ZoneInfo:
    """The clock of a site."""
    return ZoneInfo(site.zone)
