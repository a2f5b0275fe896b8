"""Forms that went with parcels and files that came back. Forms only grow."""

from typing import Any

import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models

from lapel.records.append_only import guard_statements


def guard(apps: Any, schema_editor: Any) -> None:
    keys = (("id",), ("survey_id", "parcel", "issue"))
    for statement in guard_statements(schema_editor.connection.vendor, "records_custodyform", keys):
        schema_editor.execute(statement, params=None)


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0005_reporting"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="HistoricalLaboratoryLayout",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("history_change_reason", models.TextField(null=True)),
                ("laboratory", models.CharField(max_length=200)),
                ("answers", models.TextField(default="{}")),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "survey",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.survey",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical laboratory layout",
                "verbose_name_plural": "historical laboratory layouts",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="OriginalFile",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sha256", models.CharField(max_length=64)),
                ("content", models.BinaryField()),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="original_files", to="records.survey"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="HistoricalDeliveredFile",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("history_change_reason", models.TextField(null=True)),
                ("name", models.CharField(max_length=300)),
                ("uploaded_at", models.DateTimeField()),
                ("answers", models.TextField(default="{}")),
                ("amends", models.CharField(blank=True, max_length=120)),
                ("version", models.PositiveIntegerField(default=1)),
                ("changes", models.JSONField(blank=True, default=list)),
                ("set_aside", models.TextField(blank=True)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "report",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.laboratoryreport",
                    ),
                ),
                (
                    "survey",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.survey",
                    ),
                ),
                (
                    "uploaded_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "original",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.originalfile",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical delivered file",
                "verbose_name_plural": "historical delivered files",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="DeliveredFile",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=300)),
                ("uploaded_at", models.DateTimeField()),
                ("answers", models.TextField(default="{}")),
                ("amends", models.CharField(blank=True, max_length=120)),
                ("version", models.PositiveIntegerField(default=1)),
                ("changes", models.JSONField(blank=True, default=list)),
                ("set_aside", models.TextField(blank=True)),
                (
                    "report",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="delivered_files",
                        to="records.laboratoryreport",
                    ),
                ),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="delivered_files", to="records.survey"
                    ),
                ),
                (
                    "uploaded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "original",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="delivered", to="records.originalfile"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="CustodyForm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("parcel", models.CharField(max_length=120)),
                ("issue", models.PositiveIntegerField()),
                ("made_at", models.DateTimeField()),
                ("made_by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("laboratory", models.CharField(blank=True, max_length=200)),
                ("report_to", models.CharField(blank=True, max_length=200)),
                ("wanted_by", models.CharField(blank=True, max_length=100)),
                ("data", models.TextField()),
                ("pdf", models.BinaryField()),
                ("sha256", models.CharField(max_length=64)),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="custody_forms", to="records.survey"
                    ),
                ),
            ],
            options={
                "ordering": ("parcel", "issue"),
                "constraints": [
                    models.UniqueConstraint(fields=("survey", "parcel", "issue"), name="custody_form_issue")
                ],
            },
        ),
        migrations.CreateModel(
            name="LaboratoryLayout",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("laboratory", models.CharField(max_length=200)),
                ("answers", models.TextField(default="{}")),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="laboratory_layouts",
                        to="records.survey",
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [models.UniqueConstraint(fields=("survey", "laboratory"), name="layout_of_laboratory")],
            },
        ),
        migrations.AddConstraint(
            model_name="originalfile",
            constraint=models.UniqueConstraint(fields=("survey", "sha256"), name="original_file_once"),
        ),
        migrations.RunPython(guard),
    ]
