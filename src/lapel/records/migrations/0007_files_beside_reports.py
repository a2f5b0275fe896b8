"""Files that stand beside a report: those of its earlier versions, and what a folder brought along."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0006_dispatch"),
    ]

    operations = [
        migrations.CreateModel(
            name="FileBesideReport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("place", models.CharField(max_length=300)),
                (
                    "original",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="beside", to="records.originalfile"
                    ),
                ),
                (
                    "report",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="files_beside",
                        to="records.laboratoryreport",
                    ),
                ),
            ],
            options={
                "ordering": ("place",),
                "constraints": [models.UniqueConstraint(fields=("report", "place"), name="file_beside_report")],
            },
        ),
    ]
