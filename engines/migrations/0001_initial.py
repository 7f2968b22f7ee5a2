import uuid

import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("shop", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Aircraft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("registration", models.CharField(max_length=12, unique=True)),
                ("description", models.CharField(blank=True, max_length=80)),
            ],
            options={
                "verbose_name_plural": "aircraft",
                "ordering": ["registration"],
            },
        ),
        migrations.CreateModel(
            name="Build",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.CharField(help_text="the shop's own build number", max_length=20, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("new", "new"),
                            ("factory_rebuilt", "factory rebuilt"),
                            ("overhaul", "overhaul"),
                            ("top_overhaul", "top overhaul"),
                            ("cylinder", "cylinder replacement"),
                            ("rings", "rings or hone only"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "open"),
                            ("closed", "closed out"),
                            ("superseded", "superseded"),
                            ("incomplete", "closed incomplete"),
                        ],
                        default="open",
                        max_length=10,
                    ),
                ),
                ("opened_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "total_time_h",
                    models.FloatField(blank=True, help_text="engine total time at build; never falls", null=True),
                ),
                ("time_since_overhaul_h", models.FloatField(blank=True, help_text="at build", null=True)),
                (
                    "assembly_lube",
                    models.CharField(blank=True, help_text="what the parts were put together with", max_length=80),
                ),
                ("note", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["-opened_at"],
            },
        ),
        migrations.CreateModel(
            name="BuildEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("opened", "opened"),
                            ("closed_out", "closed out"),
                            ("reopened", "reopened"),
                            ("superseded", "superseded"),
                            ("closed_incomplete", "closed incomplete"),
                        ],
                        max_length=20,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("hours", models.FloatField(blank=True, help_text="break-in hours at that moment", null=True)),
                ("reason", models.TextField(blank=True)),
                ("detail", models.JSONField(blank=True, default=dict)),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                "ordering": ["at", "id"],
            },
        ),
        migrations.CreateModel(
            name="CellRun",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("run_on", models.DateField()),
                ("minutes", models.FloatField()),
                ("steps", models.JSONField(blank=True, default=list, help_text="[[rpm, minutes], ...]")),
                ("oil_kind", models.CharField(blank=True, max_length=40)),
                ("oil_used_qt", models.FloatField(blank=True, null=True)),
                ("cht_max_degf", models.FloatField(blank=True, null=True)),
                ("full_throttle_ff_gph", models.FloatField(blank=True, null=True)),
                ("leaks", models.CharField(blank=True, help_text="empty = nothing was said", max_length=400)),
                ("note", models.TextField(blank=True)),
            ],
        ),
        migrations.CreateModel(
            name="CylinderPosition",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveSmallIntegerField()),
                ("disturbed", models.BooleanField(default=True, help_text="the ring and bore pair is new or re-honed")),
                (
                    "finish",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("through_hardened", "through-hardened steel"),
                            ("nitrided", "nitrided steel"),
                            ("plain_steel", "plain or re-honed steel"),
                            ("chrome", "channel chrome"),
                            ("nickel", "nickel-carbide composite"),
                        ],
                        max_length=16,
                    ),
                ),
                ("barrel_serial", models.CharField(blank=True, max_length=40)),
                ("barrel_lot", models.CharField(blank=True, max_length=40)),
                ("bore", models.CharField(blank=True, help_text="std, +005, +010", max_length=16)),
                (
                    "hone_angle_deg",
                    models.FloatField(blank=True, help_text="angle between the crossing marks, as measured", null=True),
                ),
                ("piston", models.CharField(blank=True, help_text="part number", max_length=40)),
                ("ring_lot", models.CharField(blank=True, max_length=40)),
                ("ring_facing", models.CharField(blank=True, max_length=40)),
                ("ring_gap_in", models.FloatField(blank=True, null=True)),
            ],
            options={
                "ordering": ["build", "number"],
            },
        ),
        migrations.CreateModel(
            name="Engine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("serial", models.CharField(max_length=40)),
            ],
            options={
                "ordering": ["serial"],
            },
        ),
        migrations.CreateModel(
            name="EngineType",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("maker", models.CharField(max_length=80)),
                ("designation", models.CharField(max_length=40, unique=True)),
            ],
            options={
                "ordering": ["designation"],
            },
        ),
        migrations.CreateModel(
            name="EngineTypeRevision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField()),
                ("revised_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("source", models.TextField(help_text="document and revision these numbers come from")),
                (
                    "source_date",
                    models.DateField(blank=True, help_text="date of that revision; empty = not stated", null=True),
                ),
                (
                    "unusual",
                    models.JSONField(
                        blank=True,
                        default=list,
                        help_text="what lies outside the usual and was confirmed, as sentences",
                    ),
                ),
                ("unusual_reason", models.TextField(blank=True, help_text="why it is right all the same")),
                ("layout", models.CharField(default="opposed", max_length=40)),
                ("cylinders", models.PositiveSmallIntegerField()),
                (
                    "numbering",
                    models.CharField(
                        blank=True, help_text="where cylinder no. 1 sits, seen from the pilot", max_length=120
                    ),
                ),
                (
                    "cylinder_map",
                    models.JSONField(
                        blank=True,
                        help_text="[[left, right], ...] from the front row back, seen from the pilot's seat; null for a gap",
                        null=True,
                    ),
                ),
                ("displacement_cuin", models.FloatField()),
                ("compression_ratio", models.FloatField()),
                ("rated_hp", models.FloatField()),
                ("rated_rpm", models.FloatField()),
                ("max_continuous_hp", models.FloatField(blank=True, help_text="empty = as rated", null=True)),
                ("max_continuous_rpm", models.FloatField(blank=True, help_text="empty = as rated", null=True)),
                (
                    "engine_turns_per_prop_turn",
                    models.FloatField(blank=True, help_text="empty = direct drive", null=True),
                ),
                (
                    "induction",
                    models.CharField(
                        choices=[
                            ("natural", "naturally aspirated"),
                            ("turbo_normalised", "turbo-normalised"),
                            ("turbocharged", "turbocharged"),
                            ("supercharged", "mechanically supercharged"),
                        ],
                        default="natural",
                        max_length=20,
                    ),
                ),
                ("max_map_inhg", models.FloatField(blank=True, null=True)),
                (
                    "fuel_system",
                    models.CharField(
                        choices=[
                            ("carburettor", "carburettor"),
                            ("injected", "fuel injected"),
                            ("electronic", "electronic injection"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "fuel_flow_compensates",
                    models.BooleanField(
                        blank=True,
                        help_text="does full-throttle fuel flow follow air density? empty = unknown",
                        null=True,
                    ),
                ),
                (
                    "prop_control",
                    models.CharField(
                        choices=[("fixed", "fixed pitch"), ("constant_speed", "constant speed")],
                        default="constant_speed",
                        max_length=16,
                    ),
                ),
                (
                    "cooling",
                    models.CharField(
                        choices=[("air", "air"), ("liquid", "liquid"), ("mixed", "liquid and air")],
                        default="air",
                        max_length=8,
                    ),
                ),
                ("dry_sump", models.BooleanField(default=False)),
                (
                    "log_only",
                    models.BooleanField(default=False, help_text="outside the standard rules: no built-in judgement"),
                ),
                ("sump_full_qt", models.FloatField(help_text="full mark")),
                (
                    "sump_usable_qt",
                    models.FloatField(blank=True, help_text="between the full mark and the pick-up", null=True),
                ),
                (
                    "sump_min_qt",
                    models.FloatField(blank=True, help_text="lowest level that the engine maker permits", null=True),
                ),
                (
                    "settle_qt",
                    models.FloatField(
                        blank=True, help_text="expected settling level; empty = two below full", null=True
                    ),
                ),
                (
                    "oil_ceiling_qt_h",
                    models.FloatField(blank=True, help_text="maker's own; empty = by the formula", null=True),
                ),
                ("takeoff_ff_low_gph", models.FloatField(blank=True, null=True)),
                ("takeoff_ff_high_gph", models.FloatField(blank=True, null=True)),
                (
                    "takeoff_ff_at",
                    models.CharField(blank=True, help_text="at which rpm, MP and density altitude", max_length=120),
                ),
                ("cht_watch_degf", models.FloatField(blank=True, null=True)),
                ("cht_limit_degf", models.FloatField(blank=True, null=True)),
                (
                    "cht_limit_source",
                    models.CharField(blank=True, help_text="document of the maker's limit", max_length=200),
                ),
                (
                    "cht_limit_source_date",
                    models.DateField(blank=True, help_text="date of its revision", null=True),
                ),
                (
                    "oil_temp_min_degf",
                    models.FloatField(blank=True, help_text="minimum before full power", null=True),
                ),
                ("oil_temp_normal_degf", models.FloatField(blank=True, null=True)),
                ("oil_temp_max_degf", models.FloatField(blank=True, null=True)),
                ("oil_press_min_psi", models.FloatField(blank=True, help_text="minimum in flight", null=True)),
                ("oil_press_idle_min_psi", models.FloatField(blank=True, null=True)),
                ("oil_press_normal_psi", models.FloatField(blank=True, null=True)),
                ("oil_press_max_psi", models.FloatField(blank=True, null=True)),
                ("tit_limit_degf", models.FloatField(blank=True, null=True)),
                (
                    "altitude_cap_ft",
                    models.FloatField(blank=True, help_text="highest altitude with enough cooling at 75 %", null=True),
                ),
                (
                    "bsfc_best_power_lb_hp_h",
                    models.FloatField(
                        blank=True,
                        help_text="fuel for a horsepower hour at best power; empty = the usual figure, with doubt",
                        null=True,
                    ),
                ),
                ("fuel_lb_per_gal", models.FloatField(default=6.0)),
                ("chart", models.JSONField(blank=True, help_text="power chart, see breakin.calc.chart", null=True)),
                (
                    "recheck",
                    models.JSONField(
                        blank=True,
                        default=list,
                        help_text="the maker's recheck list: [{item, low, high, unit}], limits where the maker gives some",
                    ),
                ),
            ],
            options={
                "ordering": ["engine_type", "-number"],
            },
        ),
        migrations.CreateModel(
            name="Holding",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("since", models.DateTimeField(default=django.utils.timezone.now)),
                ("until", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["aircraft", "since"],
            },
        ),
        migrations.CreateModel(
            name="Inspection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "client_id",
                    models.UUIDField(
                        help_text="made by the sender; a resend with the same id is harmless", unique=True
                    ),
                ),
                ("root", models.UUIDField(db_index=True, help_text="client_id of the first version of this fact")),
                (
                    "content_hash",
                    models.CharField(help_text="SHA-256 of what was sent; a changed resend is refused", max_length=64),
                ),
                (
                    "correction_reason",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("mistyped", "mistyped"),
                            ("wrong_engine", "wrong engine"),
                            ("wrong_unit", "wrong unit"),
                            ("duplicate", "duplicate"),
                            ("better_source", "better source"),
                            ("disputed", "disputed"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "withdrawn",
                    models.BooleanField(default=False, help_text="this version says that the fact never happened"),
                ),
                ("happened_at", models.DateTimeField(db_index=True)),
                ("local_date", models.DateField(help_text="the date at the place where it happened")),
                ("zone", models.CharField(max_length=64)),
                (
                    "written_at",
                    models.DateTimeField(blank=True, help_text="when it was written on the device", null=True),
                ),
                ("received_at", models.DateTimeField()),
                (
                    "source",
                    models.CharField(
                        choices=[
                            ("portal", "portal"),
                            ("shop", "shop"),
                            ("file", "instrument file"),
                            ("import", "import"),
                            ("phone", "phone call"),
                            ("api", "programming interface"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "grade",
                    models.CharField(
                        choices=[
                            ("A", "A: from an instrument's file"),
                            ("B", "B: written down within 24 h, received within 7 days"),
                            ("C", "C: within 7 days, or by phone"),
                            ("D", "D: later, or from memory"),
                            ("X", "X: disputed"),
                        ],
                        max_length=1,
                    ),
                ),
                ("typed", models.JSONField(blank=True, default=dict, help_text="field: [text, unit] as it was typed")),
                (
                    "absent",
                    models.JSONField(blank=True, default=dict, help_text="field: not_observed or not_applicable"),
                ),
                ("note", models.TextField(blank=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("oil_check", "oil check"),
                            ("oil_filter", "oil change and filter"),
                            ("leak", "leak and torque look"),
                            ("compression", "differential compression"),
                            ("borescope", "borescope"),
                            ("oil_analysis", "oil analysis"),
                            ("torque", "torque and rigging recheck"),
                            ("fuel_flow", "fuel-flow set-up"),
                            ("instruments", "instrument check"),
                            ("preservation", "preservation"),
                            ("baffle", "baffle and cooling check"),
                            ("timing", "ignition timing"),
                            ("static_rpm", "static rpm run-up"),
                            ("induction", "manifold-pressure and intake check"),
                        ],
                        max_length=16,
                    ),
                ),
                ("hours", models.FloatField(blank=True, help_text="break-in hours at the inspection", null=True)),
                (
                    "result",
                    models.CharField(
                        choices=[("normal", "normal"), ("watch", "watch"), ("stop", "stop")], max_length=8
                    ),
                ),
                ("results", models.JSONField(blank=True, default=dict)),
            ],
            options={
                "ordering": ["happened_at", "id"],
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Installation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("since", models.DateTimeField(default=django.utils.timezone.now)),
                ("until", models.DateTimeField(blank=True, null=True)),
                (
                    "position",
                    models.CharField(
                        choices=[("single", "single"), ("left", "LEFT"), ("right", "RIGHT"), ("other", "other")],
                        default="single",
                        max_length=6,
                    ),
                ),
                (
                    "basis_clock",
                    models.CharField(
                        choices=[
                            ("tach", "tach"),
                            ("hobbs", "Hobbs"),
                            ("recorder", "recorder"),
                            ("airborne", "airborne time"),
                        ],
                        default="tach",
                        max_length=8,
                    ),
                ),
                (
                    "tach_per_hobbs",
                    models.FloatField(blank=True, help_text="usual ratio; empty = 0.85 until learned", null=True),
                ),
                (
                    "prop_control",
                    models.CharField(
                        choices=[("fixed", "fixed pitch"), ("constant_speed", "constant speed")],
                        default="constant_speed",
                        max_length=16,
                    ),
                ),
                (
                    "dipstick_offset_qt",
                    models.FloatField(default=0.0, help_text="added to what the stick shows, from the pour-in"),
                ),
                ("min_oil_qt", models.FloatField(help_text="minimum for flight")),
                ("min_oil_source", models.CharField(default="POH/AFM", max_length=120)),
                ("has_map", models.BooleanField(default=True)),
                ("has_fuel_flow", models.BooleanField(default=True)),
                ("has_cht_per_cylinder", models.BooleanField(default=True)),
                ("has_tit", models.BooleanField(default=False)),
                ("separator", models.BooleanField(default=False, help_text="air-oil separator fitted")),
                (
                    "winter_kit",
                    models.BooleanField(default=False, help_text="inlets or oil cooler covered for the cold"),
                ),
                ("rpm_error", models.FloatField(default=0.0, help_text="reading minus true")),
                ("map_error_inhg", models.FloatField(default=0.0, help_text="reading minus true")),
            ],
            options={
                "ordering": ["aircraft", "position", "since"],
            },
        ),
        migrations.CreateModel(
            name="Meter",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("since", models.DateTimeField(default=django.utils.timezone.now)),
                ("until", models.DateTimeField(blank=True, null=True)),
                (
                    "position",
                    models.CharField(
                        choices=[("single", "single"), ("left", "LEFT"), ("right", "RIGHT"), ("other", "other")],
                        default="single",
                        help_text="the engine position it counts for",
                        max_length=6,
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("tach", "tach"), ("hobbs", "Hobbs"), ("recorder", "recorder")], max_length=8
                    ),
                ),
                ("serial", models.CharField(blank=True, max_length=40)),
                ("reading_at_start_h", models.FloatField()),
                ("reading_at_end_h", models.FloatField(blank=True, null=True)),
            ],
            options={
                "ordering": ["aircraft", "position", "kind", "since"],
            },
        ),
        migrations.CreateModel(
            name="Photo",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "about",
                    models.CharField(
                        choices=[("inspection", "inspection"), ("oil", "oil entry"), ("flight", "flight")],
                        max_length=10,
                    ),
                ),
                ("root", models.UUIDField(db_index=True, help_text="root of the fact that it shows")),
                ("of_at", models.DateTimeField(help_text="when that fact happened: decides who sees the photo")),
                (
                    "for_customer",
                    models.BooleanField(default=False, help_text="seen by the customer too; else by the shop only"),
                ),
                ("caption", models.CharField(blank=True, max_length=120)),
                ("sha256", models.CharField(help_text="of the file as it was sent", max_length=64)),
                ("file", models.FileField(upload_to="photos/%Y/%m/")),
                ("small", models.FileField(upload_to="photos/%Y/%m/")),
                ("width", models.PositiveIntegerField()),
                ("height", models.PositiveIntegerField()),
                ("size_bytes", models.PositiveBigIntegerField()),
                ("uploaded_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["of_at", "id"],
            },
        ),
        migrations.CreateModel(
            name="PhotoWithdrawal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("reason", models.CharField(max_length=200)),
            ],
            options={
                "ordering": ["-at"],
            },
        ),
        migrations.CreateModel(
            name="PilotAssignment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("since", models.DateTimeField(default=django.utils.timezone.now)),
                ("until", models.DateTimeField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name="Preservation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("preserved_on", models.DateField()),
                ("expires_on", models.DateField()),
                ("preservative", models.CharField(blank=True, max_length=80)),
                ("ended_on", models.DateField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
            ],
        ),
        migrations.AddField(
            model_name="aircraft",
            name="home",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="aircraft", to="shop.place"
            ),
        ),
        migrations.AddField(
            model_name="build",
            name="builder",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="build",
            name="inspector",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="build",
            name="owner",
            field=models.ForeignKey(
                blank=True,
                help_text="who looks after it",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="shop.person",
            ),
        ),
        migrations.AddField(
            model_name="buildevent",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="events", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="buildevent",
            name="by",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="cellrun",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="cell_runs", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="cylinderposition",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="positions", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="build",
            name="engine",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="builds", to="engines.engine"
            ),
        ),
        migrations.AddField(
            model_name="engine",
            name="engine_type",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="engines", to="engines.enginetype"
            ),
        ),
        migrations.AddField(
            model_name="enginetyperevision",
            name="approved_by",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="enginetyperevision",
            name="engine_type",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="revisions", to="engines.enginetype"
            ),
        ),
        migrations.AddField(
            model_name="build",
            name="type_revision",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="builds", to="engines.enginetyperevision"
            ),
        ),
        migrations.AddField(
            model_name="holding",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="holdings", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="holding",
            name="customer",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="holdings", to="shop.customer"
            ),
        ),
        migrations.AddField(
            model_name="inspection",
            name="corrects",
            field=models.OneToOneField(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="corrected_by",
                to="engines.inspection",
            ),
        ),
        migrations.AddField(
            model_name="inspection",
            name="engine",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="inspections", to="engines.engine"
            ),
        ),
        migrations.AddField(
            model_name="inspection",
            name="entered_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="inspection",
            name="inspector",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="inspection",
            name="on_behalf_of",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="inspection",
            name="performed_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="installation",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="installations", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="installation",
            name="continues",
            field=models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="continued_by",
                to="engines.installation",
            ),
        ),
        migrations.AddField(
            model_name="installation",
            name="engine",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="installations", to="engines.engine"
            ),
        ),
        migrations.AddField(
            model_name="meter",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="meters", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="engine",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="photos", to="engines.engine"
            ),
        ),
        migrations.AddField(
            model_name="photo",
            name="uploaded_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="photowithdrawal",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="photowithdrawal",
            name="photo",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="withdrawal", to="engines.photo"
            ),
        ),
        migrations.AddField(
            model_name="pilotassignment",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="assignments", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="pilotassignment",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="assignments", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="preservation",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="preservations", to="engines.build"
            ),
        ),
        migrations.AddConstraint(
            model_name="cylinderposition",
            constraint=models.UniqueConstraint(fields=("build", "number"), name="cylinder_position_once"),
        ),
        migrations.AddConstraint(
            model_name="cylinderposition",
            constraint=models.CheckConstraint(
                condition=models.Q(("disturbed", False), models.Q(("finish", ""), _negated=True), _connector="OR"),
                name="disturbed_position_names_its_finish",
            ),
        ),
        migrations.AddConstraint(
            model_name="engine",
            constraint=models.UniqueConstraint(fields=("engine_type", "serial"), name="engine_serial_once"),
        ),
        migrations.AddConstraint(
            model_name="enginetyperevision",
            constraint=models.UniqueConstraint(fields=("engine_type", "number"), name="engine_type_revision_once"),
        ),
        migrations.AddConstraint(
            model_name="enginetyperevision",
            constraint=models.CheckConstraint(
                condition=models.Q(("cylinders__gte", 1), ("cylinders__lte", 24)), name="type_cylinders_in_range"
            ),
        ),
        migrations.AddConstraint(
            model_name="enginetyperevision",
            constraint=models.CheckConstraint(
                condition=models.Q(("displacement_cuin__gte", 30), ("displacement_cuin__lte", 4500)),
                name="type_displacement_in_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="enginetyperevision",
            constraint=models.CheckConstraint(
                condition=models.Q(("rated_hp__gte", 20), ("rated_hp__lte", 3800)), name="type_power_in_range"
            ),
        ),
        migrations.AddConstraint(
            model_name="enginetyperevision",
            constraint=models.CheckConstraint(
                condition=models.Q(("rated_rpm__gte", 1500), ("rated_rpm__lte", 6500)), name="type_rpm_in_range"
            ),
        ),
        migrations.AddConstraint(
            model_name="enginetyperevision",
            constraint=models.CheckConstraint(
                condition=models.Q(("sump_full_qt__gte", 1), ("sump_full_qt__lte", 60)), name="type_sump_in_range"
            ),
        ),
        migrations.AddConstraint(
            model_name="enginetyperevision",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("takeoff_ff_low_gph__isnull", True),
                    ("takeoff_ff_high_gph__gte", models.F("takeoff_ff_low_gph")),
                    _connector="OR",
                ),
                name="type_takeoff_ff_ordered",
            ),
        ),
        migrations.AddIndex(
            model_name="build",
            index=models.Index(fields=["engine", "-opened_at"], name="build_newest"),
        ),
        migrations.AddConstraint(
            model_name="build",
            constraint=models.UniqueConstraint(
                condition=models.Q(("state", "open")), fields=("engine",), name="build_one_open"
            ),
        ),
        migrations.AddConstraint(
            model_name="build",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("total_time_h__isnull", True),
                    models.Q(("total_time_h__gte", 0), ("total_time_h__lte", 40000)),
                    _connector="OR",
                ),
                name="build_total_time_in_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="build",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("inspector", models.F("builder")), _negated=True),
                    ("inspector__isnull", True),
                    ("builder__isnull", True),
                    _connector="OR",
                ),
                name="build_inspected_by_another",
            ),
        ),
        migrations.AddConstraint(
            model_name="holding",
            constraint=models.UniqueConstraint(
                condition=models.Q(("until__isnull", True)), fields=("aircraft",), name="holding_one_now"
            ),
        ),
        migrations.AddConstraint(
            model_name="holding",
            constraint=models.CheckConstraint(
                condition=models.Q(("until__isnull", True), ("until__gt", models.F("since")), _connector="OR"),
                name="holding_period",
            ),
        ),
        migrations.AddConstraint(
            model_name="installation",
            constraint=models.UniqueConstraint(
                condition=models.Q(("until__isnull", True)), fields=("engine",), name="installed_once_now"
            ),
        ),
        migrations.AddConstraint(
            model_name="installation",
            constraint=models.UniqueConstraint(
                condition=models.Q(("until__isnull", True)),
                fields=("aircraft", "position"),
                name="position_taken_once_now",
            ),
        ),
        migrations.AddConstraint(
            model_name="installation",
            constraint=models.CheckConstraint(
                condition=models.Q(("dipstick_offset_qt__gte", -3), ("dipstick_offset_qt__lte", 3)),
                name="dipstick_offset_in_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="installation",
            constraint=models.CheckConstraint(
                condition=models.Q(("until__isnull", True), ("until__gt", models.F("since")), _connector="OR"),
                name="installation_period",
            ),
        ),
        migrations.AddConstraint(
            model_name="meter",
            constraint=models.UniqueConstraint(
                condition=models.Q(("until__isnull", True)),
                fields=("aircraft", "position", "kind"),
                name="meter_one_now",
            ),
        ),
        migrations.AddConstraint(
            model_name="meter",
            constraint=models.CheckConstraint(
                condition=models.Q(("until__isnull", True), ("until__gt", models.F("since")), _connector="OR"),
                name="meter_period",
            ),
        ),
        migrations.AddConstraint(
            model_name="photo",
            constraint=models.UniqueConstraint(fields=("root", "sha256"), name="photo_once"),
        ),
        migrations.AddConstraint(
            model_name="pilotassignment",
            constraint=models.UniqueConstraint(
                condition=models.Q(("until__isnull", True)), fields=("aircraft", "person"), name="assignment_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="pilotassignment",
            constraint=models.CheckConstraint(
                condition=models.Q(("until__isnull", True), ("until__gt", models.F("since")), _connector="OR"),
                name="assignment_period",
            ),
        ),
        migrations.AddConstraint(
            model_name="preservation",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_on__isnull", True)), fields=("build",), name="preservation_one_now"
            ),
        ),
        migrations.AddConstraint(
            model_name="preservation",
            constraint=models.CheckConstraint(
                condition=models.Q(("expires_on__gte", models.F("preserved_on"))), name="preservation_expires_later"
            ),
        ),
        migrations.CreateModel(
            name="Accessory",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("magneto", "magneto"),
                            ("propeller", "propeller"),
                            ("governor", "propeller governor"),
                            ("hoses", "hoses"),
                            ("fuel_pump", "fuel pump"),
                            ("alternator", "alternator"),
                            ("turbocharger", "turbocharger"),
                            ("other", "other"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "name",
                    models.CharField(
                        blank=True, help_text="which one, for example left; of another kind: what", max_length=40
                    ),
                ),
                (
                    "engine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="accessories", to="engines.engine"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "accessories",
                "ordering": ["engine", "kind", "name", "id"],
            },
        ),
        migrations.CreateModel(
            name="AccessoryEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("root", models.UUIDField(db_index=True, default=uuid.uuid4)),
                (
                    "withdrawn",
                    models.BooleanField(default=False, help_text="this row says that the event never happened"),
                ),
                (
                    "act",
                    models.CharField(
                        choices=[
                            ("overhauled", "overhauled"),
                            ("replaced", "replaced"),
                            ("inspected", "inspected"),
                            ("interval", "its interval is another now; nothing was done to it"),
                            ("removed", "no longer watched here"),
                        ],
                        max_length=12,
                    ),
                ),
                ("done_on", models.DateField()),
                ("total_time_h", models.FloatField(blank=True, help_text="total time of the engine then", null=True)),
                (
                    "own_hours_h",
                    models.FloatField(
                        blank=True, help_text="hours that it had of its interval already; empty = none", null=True
                    ),
                ),
                ("interval_h", models.FloatField(blank=True, null=True)),
                ("interval_months", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("source", models.CharField(help_text="document and revision the interval comes from", max_length=200)),
                ("part", models.CharField(blank=True, help_text="part or serial number", max_length=80)),
                ("done_by", models.CharField(blank=True, help_text="who did it: a person or a firm", max_length=120)),
                ("words", models.TextField(blank=True)),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "accessory",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="events", to="engines.accessory"
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
                ),
                (
                    "corrects",
                    models.OneToOneField(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="engines.accessoryevent",
                    ),
                ),
            ],
            options={
                "ordering": ["accessory", "done_on", "id"],
            },
        ),
        migrations.AddConstraint(
            model_name="accessory",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "other"), _negated=True), models.Q(("name", ""), _negated=True), _connector="OR"
                ),
                name="accessory_other_is_named",
            ),
        ),
        migrations.AddConstraint(
            model_name="accessoryevent",
            constraint=models.CheckConstraint(
                condition=models.Q(("interval_h__isnull", False), ("interval_months__isnull", False), _connector="OR"),
                name="accessory_has_interval",
            ),
        ),
        migrations.AddConstraint(
            model_name="accessoryevent",
            constraint=models.CheckConstraint(
                condition=models.Q(("interval_h__isnull", True), ("interval_h__gt", 0), _connector="OR"),
                name="accessory_interval_hours_positive",
            ),
        ),
        migrations.AddConstraint(
            model_name="accessoryevent",
            constraint=models.CheckConstraint(
                condition=models.Q(("interval_months__isnull", True), ("interval_months__gte", 1), _connector="OR"),
                name="accessory_interval_months_positive",
            ),
        ),
        migrations.AddConstraint(
            model_name="accessoryevent",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("total_time_h__isnull", True),
                    models.Q(("total_time_h__gte", 0), ("total_time_h__lte", 40000)),
                    _connector="OR",
                ),
                name="accessory_total_time_in_range",
            ),
        ),
        migrations.AddConstraint(
            model_name="accessoryevent",
            constraint=models.CheckConstraint(
                condition=models.Q(("own_hours_h__isnull", True), ("own_hours_h__gte", 0), _connector="OR"),
                name="accessory_own_hours_not_negative",
            ),
        ),
    ]
