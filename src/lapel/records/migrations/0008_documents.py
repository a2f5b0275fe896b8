"""A site's letterhead; documents that left the house, as they were. Those only grow."""

from typing import Any

import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models

from lapel.records.append_only import guard_statements


def guard(apps: Any, schema_editor: Any) -> None:
    keys = (("id",), ("survey_id", "sha256"))
    for statement in guard_statements(schema_editor.connection.vendor, "records_keptdocument", keys):
        schema_editor.execute(statement, params=None)


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0007_files_beside_reports"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="HistoricalLetterhead",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("history_change_reason", models.TextField(null=True)),
                ("firm", models.CharField(blank=True, max_length=200)),
                ("logo", models.BinaryField(blank=True, null=True)),
                ("logo_sha256", models.CharField(blank=True, max_length=64)),
                ("words", models.JSONField(blank=True, default=dict)),
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
                    "site",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.site",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical letterhead",
                "verbose_name_plural": "historical letterheads",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="Letterhead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("firm", models.CharField(blank=True, max_length=200)),
                ("logo", models.BinaryField(blank=True, null=True)),
                ("logo_sha256", models.CharField(blank=True, max_length=64)),
                ("words", models.JSONField(blank=True, default=dict)),
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="letterhead", to="records.site"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="KeptDocument",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("file", models.CharField(max_length=300)),
                ("kind", models.CharField(max_length=120)),
                ("sha256", models.CharField(max_length=64)),
                ("input_sha256", models.CharField(max_length=64)),
                ("made_at", models.DateTimeField()),
                ("made_by", models.CharField(max_length=150)),
                ("content", models.BinaryField()),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="kept_documents", to="records.survey"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [models.UniqueConstraint(fields=("survey", "sha256"), name="kept_document_once")],
            },
        ),
        migrations.RunPython(guard),
    ]
