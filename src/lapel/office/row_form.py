"""A row of a table that people edit as a form: what is always shown, what stays folded, whose the row is."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from lapel.records.models import Survey


class RowForm(forms.ModelForm):  # type: ignore[type-arg]  # its models are named by each form
    """A row of a survey; `more` names the fields that stay folded until somebody needs them."""

    more: ClassVar[tuple[str, ...]] = ()

    def __init__(self, *args: Any, survey: Survey, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.survey = survey
        if self.instance._state.adding:
            self.owned()
        for field in self.fields.values():
            if isinstance(field, (forms.FloatField, forms.IntegerField)):
                field.widget.attrs.setdefault("inputmode", "decimal")
        self.prepare()

    def owned(self) -> None:
        """Say whose a new row is."""
        self.instance.survey = self.survey

    def prepare(self) -> None:
        """Fill the choices that depend on the survey."""

    def shown(self) -> list[forms.BoundField]:
        """Fields that are always shown."""
        return [self[name] for name in self.fields if name not in (*self.more, "DELETE", "id")]

    def folded(self) -> list[forms.BoundField]:
        """Fields that stay folded."""
        return [self[name] for name in self.more if name in self.fields]

    @property
    def is_filled_where_folded(self) -> bool:
        """Whether something not usual stands in a folded field, or is wrong there: then it is unfolded."""
        if any(name in self.errors for name in self.more):
            return True
        usual = type(self.instance)()
        return not self.instance._state.adding and any(
            getattr(self.instance, name) != getattr(usual, name) for name in self.more
        )
