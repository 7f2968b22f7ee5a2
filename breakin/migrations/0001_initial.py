import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models

import breakin.models.plan


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("engines", "0001_initial"),
        ("shop", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Assessment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("live", models.BooleanField(default=True, help_text="open, or closed with something outstanding")),
                (
                    "phase",
                    models.CharField(
                        choices=[
                            ("preserved", "preserved"),
                            ("awaiting", "awaiting first flight"),
                            ("hour_1", "first hour"),
                            ("hour_2", "second hour"),
                            ("alternating", "alternating"),
                            ("settling", "settling"),
                            ("provisional", "provisionally settled"),
                            ("review", "ready for review"),
                            ("closed", "closed out"),
                            ("follow_up", "follow-up"),
                            ("incomplete", "closed incomplete"),
                            ("log_only", "log only"),
                        ],
                        default="awaiting",
                        max_length=12,
                    ),
                ),
                ("reopened", models.BooleanField(default=False)),
                ("stopped", models.BooleanField(default=False)),
                (
                    "lane",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (1, "Stopped"),
                            (2, "Call today"),
                            (3, "Late"),
                            (4, "Slow"),
                            (5, "Quiet"),
                            (6, "Ready for review"),
                            (7, "Running in"),
                            (8, "Follow-up"),
                            (9, "Not flying yet"),
                        ],
                        default=9,
                    ),
                ),
                ("lane_reasons", models.JSONField(blank=True, default=list)),
                ("detail", models.JSONField(blank=True, default=dict)),
                ("inputs_digest", models.CharField(blank=True, max_length=64)),
                ("rules_version", models.CharField(blank=True, max_length=64)),
                ("computed_at", models.DateTimeField(blank=True, null=True)),
                ("data_until", models.DateTimeField(blank=True, help_text="newest fact that went in", null=True)),
                (
                    "next_change_at",
                    models.DateTimeField(blank=True, help_text="when time alone can change the judgement", null=True),
                ),
                (
                    "dirty_at",
                    models.DateTimeField(blank=True, help_text="a fact came in that is not yet judged", null=True),
                ),
                ("registration", models.CharField(blank=True, max_length=12)),
                ("side", models.CharField(blank=True, max_length=6)),
                ("twin", models.BooleanField(default=False)),
                ("serial", models.CharField(blank=True, max_length=40)),
                ("customer_name", models.CharField(blank=True, max_length=120)),
                ("type_name", models.CharField(blank=True, max_length=40)),
                ("build_kind", models.CharField(blank=True, max_length=16)),
                ("finish", models.CharField(blank=True, max_length=60)),
                ("hours", models.FloatField(default=0.0)),
                ("expected_low_h", models.FloatField(blank=True, null=True)),
                ("expected_high_h", models.FloatField(blank=True, null=True)),
                ("first_two_word", models.CharField(blank=True, max_length=24)),
                ("oil_level_qt", models.FloatField(blank=True, null=True)),
                ("oil_rate_qt_h", models.FloatField(blank=True, null=True)),
                ("oil_rate_u_qt_h", models.FloatField(blank=True, null=True)),
                ("oil_word", models.CharField(blank=True, max_length=24)),
                ("takeoff_ff_word", models.CharField(blank=True, max_length=32)),
                ("cht_max_degf", models.FloatField(blank=True, null=True)),
                ("cht_line_degf", models.FloatField(blank=True, null=True)),
                ("next_touch", models.CharField(blank=True, max_length=80)),
                ("next_touch_h", models.FloatField(blank=True, null=True)),
                ("next_touch_on", models.DateField(blank=True, null=True)),
                ("last_heard_at", models.DateTimeField(blank=True, null=True)),
                ("stops", models.PositiveSmallIntegerField(default=0)),
                ("calls", models.PositiveSmallIntegerField(default=0)),
                ("watches", models.PositiveSmallIntegerField(default=0)),
                ("notes", models.PositiveSmallIntegerField(default=0)),
                (
                    "call_reason",
                    models.CharField(blank=True, help_text="one sentence: why to phone today", max_length=240),
                ),
                (
                    "evidence_share",
                    models.FloatField(blank=True, help_text="share of flights with grade A or B", null=True),
                ),
                ("owner_name", models.CharField(blank=True, max_length=80)),
                (
                    "sort_key",
                    models.CharField(
                        blank=True, help_text="lane, then registration and side: pages by key", max_length=80
                    ),
                ),
                ("asks", models.BooleanField(default=False, help_text="stands on the list of today")),
                (
                    "place_name",
                    models.CharField(blank=True, help_text="home of the aircraft; empty in the shop", max_length=80),
                ),
            ],
        ),
        migrations.CreateModel(
            name="AssessmentDay",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("day", models.DateField()),
                (
                    "phase",
                    models.CharField(
                        choices=[
                            ("preserved", "preserved"),
                            ("awaiting", "awaiting first flight"),
                            ("hour_1", "first hour"),
                            ("hour_2", "second hour"),
                            ("alternating", "alternating"),
                            ("settling", "settling"),
                            ("provisional", "provisionally settled"),
                            ("review", "ready for review"),
                            ("closed", "closed out"),
                            ("follow_up", "follow-up"),
                            ("incomplete", "closed incomplete"),
                            ("log_only", "log only"),
                        ],
                        max_length=12,
                    ),
                ),
                ("stopped", models.BooleanField()),
                (
                    "lane",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (1, "Stopped"),
                            (2, "Call today"),
                            (3, "Late"),
                            (4, "Slow"),
                            (5, "Quiet"),
                            (6, "Ready for review"),
                            (7, "Running in"),
                            (8, "Follow-up"),
                            (9, "Not flying yet"),
                        ]
                    ),
                ),
                ("hours", models.FloatField()),
                ("oil_rate_qt_h", models.FloatField(blank=True, null=True)),
                ("oil_rate_u_qt_h", models.FloatField(blank=True, null=True)),
                ("p_stabilized", models.FloatField(blank=True, null=True)),
                ("inputs_digest", models.CharField(max_length=64)),
            ],
            options={
                "ordering": ["build", "day"],
            },
        ),
        migrations.CreateModel(
            name="ChannelMap",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("signature", models.CharField(max_length=64)),
                ("mapping", models.JSONField()),
                ("clock_zone", models.CharField(default="UTC", max_length=64)),
                (
                    "keep_position",
                    models.BooleanField(default=False, help_text="keep latitude and longitude in what is read"),
                ),
                ("confirmed_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["aircraft", "-confirmed_at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="CloseOutFile",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveSmallIntegerField(help_text="1, 2, ... of this build")),
                ("signed_at", models.DateTimeField()),
                (
                    "alone",
                    models.BooleanField(default=False, help_text="proposed and signed by the only person of the shop"),
                ),
                ("reservations", models.JSONField(blank=True, default=list)),
                ("hours", models.FloatField(help_text="break-in hours at the close-out")),
                ("rules_version", models.CharField(max_length=64)),
                ("software_version", models.CharField(max_length=40)),
                ("document", models.FileField(max_length=200, upload_to="close-out/%Y/%m/")),
                ("document_sha256", models.CharField(max_length=64, unique=True)),
                ("print", models.FileField(max_length=200, upload_to="close-out/%Y/%m/")),
                ("print_sha256", models.CharField(max_length=64, unique=True)),
                ("sealed", models.JSONField(default=dict)),
                ("recorded_at", models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                "ordering": ["build", "number"],
            },
        ),
        migrations.CreateModel(
            name="CloseOutProposal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("notes", models.TextField(help_text="what decided it")),
                (
                    "reservations",
                    models.JSONField(blank=True, default=list, help_text='["missed first two hours, settled anyway"]'),
                ),
            ],
            options={
                "ordering": ["build", "at", "id"],
            },
        ),
        migrations.CreateModel(
            name="DueItem",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rule", models.CharField(max_length=40)),
                ("occurrence", models.CharField(max_length=120)),
                ("rule_version", models.PositiveSmallIntegerField()),
                (
                    "kind",
                    models.CharField(
                        help_text="oil_reading, oil_filter, flight, preservation, follow_up, answer", max_length=20
                    ),
                ),
                ("title", models.CharField(max_length=120)),
                ("text", models.TextField(help_text="what to do and why, in a sentence with its numbers")),
                (
                    "said",
                    models.JSONField(
                        blank=True, default=dict, help_text="title and text as messages, see breakin.calc.said"
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting"),
                            ("due_soon", "due soon"),
                            ("due", "due"),
                            ("late", "late"),
                            ("done", "done"),
                            ("waived", "waived"),
                            ("gone", "no longer asked for"),
                        ],
                        default="waiting",
                        max_length=8,
                    ),
                ),
                ("from_h", models.FloatField(blank=True, null=True)),
                ("due_h", models.FloatField(blank=True, null=True)),
                ("late_h", models.FloatField(blank=True, null=True)),
                ("due_at", models.DateTimeField(blank=True, null=True)),
                ("forecast_on", models.DateField(blank=True, null=True)),
                ("escalation", models.CharField(blank=True, help_text="nudge, chase, call or manager", max_length=8)),
                ("evidence", models.JSONField(blank=True, default=list)),
                ("opened_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("closed_by_kind", models.CharField(blank=True, max_length=20)),
                ("closed_by_root", models.UUIDField(blank=True, null=True)),
                ("waived_reason", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["build", "rule", "occurrence"],
            },
        ),
        migrations.CreateModel(
            name="Finding",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rule", models.CharField(max_length=40)),
                (
                    "occurrence",
                    models.CharField(help_text="made from the roots of the facts that show it", max_length=120),
                ),
                ("rule_version", models.PositiveSmallIntegerField()),
                (
                    "severity",
                    models.PositiveSmallIntegerField(choices=[(1, "note"), (2, "watch"), (3, "call"), (4, "stop")]),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("open", "open"),
                            ("acknowledged", "acknowledged"),
                            ("cleared", "cleared"),
                            ("gone", "no longer found"),
                        ],
                        default="open",
                        max_length=12,
                    ),
                ),
                ("title", models.CharField(max_length=120)),
                ("text", models.TextField(help_text="what was found, in a sentence with its numbers and units")),
                (
                    "said",
                    models.JSONField(
                        blank=True, default=dict, help_text="title and text as messages, see breakin.calc.said"
                    ),
                ),
                ("why", models.TextField(help_text="the rule in plain words")),
                (
                    "source",
                    models.CharField(help_text="where the line comes from: plan, engine type, POH/AFM", max_length=200),
                ),
                ("numbers", models.JSONField(blank=True, default=dict)),
                (
                    "evidence",
                    models.JSONField(blank=True, default=list, help_text='[{"kind": "flight", "root": "..."}, ...]'),
                ),
                ("for_customer", models.BooleanField(default=True, help_text="may the customer read it?")),
                ("happened_at", models.DateTimeField(help_text="moment of the fact that shows it")),
                ("opened_at", models.DateTimeField()),
                ("acknowledged_at", models.DateTimeField(blank=True, null=True)),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["-severity", "-happened_at", "id"],
            },
        ),
        migrations.CreateModel(
            name="FindingVerdict",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "verdict",
                    models.CharField(
                        choices=[
                            ("agree", "agree"),
                            ("false_alarm", "false alarm"),
                            ("explained", "explained"),
                            ("fixed", "fixed"),
                        ],
                        max_length=12,
                    ),
                ),
                ("cause", models.TextField()),
                ("action", models.TextField()),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["finding", "at"],
            },
        ),
        migrations.CreateModel(
            name="Flight",
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
                            ("run_in", "run-in flight"),
                            ("ferry", "ferry"),
                            ("check", "check flight"),
                            ("training", "training"),
                            ("private", "private"),
                            ("ground_run", "ground run only"),
                        ],
                        default="run_in",
                        max_length=10,
                    ),
                ),
                ("field_elevation_ft", models.FloatField(blank=True, null=True)),
                ("altimeter_inhg", models.FloatField(blank=True, null=True)),
                ("oat_ground_degf", models.FloatField(blank=True, null=True)),
                ("off_block_at", models.DateTimeField(blank=True, null=True)),
                ("on_block_at", models.DateTimeField(blank=True, null=True)),
                ("airborne_min", models.FloatField()),
                ("ground_before_min", models.FloatField(blank=True, null=True)),
                ("ground_after_min", models.FloatField(blank=True, null=True)),
                ("landings", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("persons_aboard", models.PositiveSmallIntegerField(blank=True, null=True)),
                ("chips", models.JSONField(blank=True, default=list, help_text="values of Chip")),
            ],
            options={
                "ordering": ["happened_at", "id"],
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="FlightEngine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "meter_kind",
                    models.CharField(blank=True, help_text="which clock the meter readings are from", max_length=8),
                ),
                ("meter_start_h", models.FloatField(blank=True, null=True)),
                ("meter_end_h", models.FloatField(blank=True, null=True)),
                (
                    "other_meters",
                    models.JSONField(
                        blank=True,
                        default=dict,
                        help_text='further clocks read on this flight: {"hobbs": [start, end]}',
                    ),
                ),
                ("hours", models.FloatField(help_text="run hours of this flight on the basis clock")),
                (
                    "hours_estimated",
                    models.BooleanField(default=False, help_text="from another clock: may remind, never close out"),
                ),
                ("takeoff_rpm", models.FloatField(blank=True, null=True)),
                ("takeoff_map_inhg", models.FloatField(blank=True, null=True)),
                ("takeoff_ff_gph", models.FloatField(blank=True, null=True)),
                (
                    "climb_cht_degf",
                    models.JSONField(blank=True, default=dict, help_text='{"1000": 395, ...} ft above the field'),
                ),
                ("cht_max_degf", models.FloatField(blank=True, null=True)),
                (
                    "cht_over_watch",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("no", "no"),
                            ("under_5", "under 5 min"),
                            ("longer", "longer"),
                            ("not_looked", "not looked"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "cht_falling_by_3000",
                    models.CharField(
                        blank=True, choices=[("yes", "yes"), ("no", "no"), ("not_looked", "not looked")], max_length=12
                    ),
                ),
                (
                    "cht_cruise_mean_degf",
                    models.FloatField(blank=True, help_text="mean of the heads in level cruise", null=True),
                ),
                ("oil_temp_max_degf", models.FloatField(blank=True, null=True)),
                ("oil_press_min_psi", models.FloatField(blank=True, help_text="lowest in flight", null=True)),
                ("oil_press_idle_psi", models.FloatField(blank=True, help_text="idle, hot", null=True)),
                ("tit_max_degf", models.FloatField(blank=True, null=True)),
            ],
            options={
                "ordering": ["flight", "id"],
            },
        ),
        migrations.CreateModel(
            name="FlightMatch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("flight_root", models.UUIDField(blank=True, help_text="empty: none of the logged flights", null=True)),
                ("clock_shift_s", models.FloatField(default=0.0)),
                ("at", models.DateTimeField()),
                ("reason", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["recorded_flight", "-at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="IssuedCard",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField()),
                (
                    "stage",
                    models.CharField(
                        choices=[
                            ("ground", "ground budget"),
                            ("climb", "climb"),
                            ("hour_1", "hour 1, constant power"),
                            ("hour_2", "hour 2, 15 min and 15 min"),
                            ("alternating", "30 min and 30 min"),
                            ("settle", "settling"),
                        ],
                        max_length=12,
                    ),
                ),
                ("minutes", models.JSONField(help_text='minute table: [[minutes, "75" or "65"], ...]')),
                ("issued_at", models.DateTimeField()),
                ("valid_until", models.DateTimeField()),
                ("detail", models.JSONField(blank=True, default=dict)),
            ],
            options={
                "ordering": ["build", "-number"],
            },
        ),
        migrations.CreateModel(
            name="RuleCount",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rule", models.CharField(max_length=40, unique=True)),
                ("found", models.IntegerField(default=0, help_text="findings, ever")),
                ("builds", models.IntegerField(default=0, help_text="builds in which it found anything, ever")),
                ("standing", models.IntegerField(default=0, help_text="findings that stand now")),
                ("asked", models.IntegerField(default=0, help_text="due items, ever")),
                ("asking", models.IntegerField(default=0, help_text="due items that are open now")),
                ("agree", models.IntegerField(default=0)),
                ("false_alarm", models.IntegerField(default=0)),
                ("explained", models.IntegerField(default=0)),
                ("fixed", models.IntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="LaneCount",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "lane",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (1, "Stopped"),
                            (2, "Call today"),
                            (3, "Late"),
                            (4, "Slow"),
                            (5, "Quiet"),
                            (6, "Ready for review"),
                            (7, "Running in"),
                            (8, "Follow-up"),
                            (9, "Not flying yet"),
                        ],
                        unique=True,
                    ),
                ),
                ("builds", models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name="MergeDecision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kept_root", models.UUIDField()),
                ("dropped_root", models.UUIDField(unique=True)),
                ("at", models.DateTimeField()),
                ("reason", models.TextField(blank=True)),
            ],
        ),
        migrations.CreateModel(
            name="Message",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(max_length=160, unique=True)),
                ("address", models.EmailField(max_length=254)),
                ("message_id", models.CharField(max_length=200, unique=True)),
                ("subject", models.CharField(max_length=200)),
                ("text", models.TextField()),
                ("html", models.TextField(blank=True)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("claimed", "being sent"),
                            ("retry", "will be tried again"),
                            ("sent", "sent"),
                            ("dead", "given up"),
                            ("dropped", "dropped: no longer due"),
                        ],
                        default="claimed",
                        max_length=8,
                    ),
                ),
                ("created_at", models.DateTimeField()),
                ("lease", models.UUIDField(blank=True, null=True)),
                ("lease_until", models.DateTimeField(blank=True, null=True)),
                ("retry_at", models.DateTimeField(blank=True, null=True)),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("sent_at", models.DateTimeField(blank=True, null=True)),
                ("last_error", models.TextField(blank=True)),
                (
                    "bounced_at",
                    models.DateTimeField(blank=True, help_text="when somebody or the mail server said so", null=True),
                ),
                ("bounced_why", models.CharField(blank=True, max_length=200)),
            ],
            options={
                "ordering": ["-created_at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="Notice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "key",
                    models.CharField(
                        help_text="build, what it is about, level, recipient, channel", max_length=200, unique=True
                    ),
                ),
                (
                    "level",
                    models.CharField(
                        choices=[
                            ("note", "message"),
                            ("nudge", "nudge"),
                            ("chase", "chase"),
                            ("call", "call"),
                            ("manager", "manager"),
                            ("stop", "stop"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "channel",
                    models.CharField(choices=[("email", "e-mail"), ("phone", "phone")], default="email", max_length=8),
                ),
                ("headline", models.CharField(max_length=160)),
                ("text", models.TextField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting"),
                            ("sent", "sent"),
                            ("dropped", "dropped: no longer due"),
                            ("phone", "use the phone"),
                            ("failed", "could not be sent"),
                            ("held", "held"),
                        ],
                        default="waiting",
                        max_length=8,
                    ),
                ),
                ("created_at", models.DateTimeField()),
                ("not_before", models.DateTimeField(help_text="quiet hours of the recipient end here")),
                ("sent_at", models.DateTimeField(blank=True, null=True)),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                ("why_not_sent", models.CharField(blank=True, max_length=200)),
            ],
            options={
                "ordering": ["-created_at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="OilEvent",
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
                            ("reading", "reading"),
                            ("addition", "addition"),
                            ("none_added", "none added"),
                            ("drain_fill", "drain and fill"),
                            ("loss_seen", "loss seen"),
                        ],
                        max_length=10,
                    ),
                ),
                ("flight_root", models.UUIDField(blank=True, db_index=True, null=True)),
                (
                    "when",
                    models.CharField(
                        blank=True,
                        choices=[("before", "before the flight"), ("after", "after the flight")],
                        max_length=6,
                    ),
                ),
                ("meter_reading_h", models.FloatField(blank=True, null=True)),
                (
                    "order",
                    models.PositiveSmallIntegerField(default=0, help_text="order of events that share one moment"),
                ),
                ("level_qt", models.FloatField(blank=True, null=True)),
                ("minutes_since_shutdown", models.FloatField(blank=True, null=True)),
                ("level_ground", models.BooleanField(blank=True, null=True)),
                ("wiped_twice", models.BooleanField(blank=True, null=True)),
                ("recalled", models.BooleanField(default=False, help_text="told from memory")),
                (
                    "u_qt",
                    models.FloatField(
                        blank=True, help_text="one-sigma uncertainty; empty = by the protocol", null=True
                    ),
                ),
                (
                    "belly_oil",
                    models.PositiveSmallIntegerField(
                        blank=True, choices=[(0, "none"), (1, "film"), (2, "drips"), (3, "streaming")], null=True
                    ),
                ),
                ("amount_qt", models.FloatField(blank=True, help_text="added, or lost where seen", null=True)),
                (
                    "container",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("us_qt", "US quart"),
                            ("litre", "1 L bottle"),
                            ("imp_qt", "imperial quart"),
                            ("measured", "measured amount"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "oil_kind",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("mineral", "straight mineral"),
                            ("ad", "ashless dispersant"),
                            ("other", "other or unknown"),
                        ],
                        max_length=8,
                    ),
                ),
                ("brand", models.CharField(blank=True, max_length=80)),
                ("drained_qt", models.FloatField(blank=True, null=True)),
                ("filled_qt", models.FloatField(blank=True, null=True)),
                ("filter_changed", models.BooleanField(blank=True, null=True)),
            ],
            options={
                "ordering": ["happened_at", "id"],
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="PhoneCall",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "reached",
                    models.CharField(
                        choices=[("spoken", "spoken with"), ("message", "left a message"), ("nobody", "no answer")],
                        max_length=8,
                    ),
                ),
                ("said", models.TextField(help_text="what was said or agreed, in a line or two")),
                (
                    "next_on",
                    models.DateField(
                        blank=True, help_text="the day of the next call, on the shop's calendar", null=True
                    ),
                ),
                ("at", models.DateTimeField()),
                ("for_customer", models.BooleanField(default=False, help_text="may the customer read it?")),
            ],
            options={
                "ordering": ["-at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="ShopNote",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("text", models.TextField()),
                ("at", models.DateTimeField()),
                (
                    "aircraft",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="shop_notes", to="engines.aircraft"
                    ),
                ),
                (
                    "build",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="shop_notes", to="engines.build"
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
                ),
                (
                    "customer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.customer"
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-id"],
                "indexes": [
                    models.Index(fields=["aircraft", "-at"], name="shop_note_newest"),
                    models.Index(fields=["-at"], name="shop_note_to_tell"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("text", ""), _negated=True), name="shop_note_says_something"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="PlanStage",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("order", models.PositiveSmallIntegerField()),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("ground", "ground budget"),
                            ("climb", "climb"),
                            ("hour_1", "hour 1, constant power"),
                            ("hour_2", "hour 2, 15 min and 15 min"),
                            ("alternating", "30 min and 30 min"),
                            ("settle", "settling"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "minutes",
                    models.JSONField(
                        default=list, help_text='minute table: [[60, "75"]] or [[15, "75"], [15, "65"], ...]'
                    ),
                ),
                (
                    "cap_h",
                    models.FloatField(
                        blank=True, help_text="break-in hours at which the stage ends in any case", null=True
                    ),
                ),
                ("rpm", models.FloatField(blank=True, help_text="planned rpm", null=True)),
                ("climb_to_ft", models.FloatField(blank=True, null=True)),
                (
                    "climb_reference",
                    models.CharField(
                        choices=[("field", "above the field"), ("sea", "above sea level")],
                        default="field",
                        max_length=8,
                    ),
                ),
                (
                    "altitude_max_ft",
                    models.FloatField(blank=True, help_text="highest altitude for power or cooling", null=True),
                ),
                ("mixture", models.TextField(blank=True)),
                ("cowl_flaps", models.TextField(blank=True)),
                ("aboard", models.TextField(blank=True, help_text="who may be aboard")),
                ("advice", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["plan", "order"],
            },
        ),
        migrations.CreateModel(
            name="PlanTemplate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "variant",
                    models.CharField(
                        help_text="for example: constant speed, fixed pitch, turbo, partial", max_length=40
                    ),
                ),
                ("source", models.TextField(help_text="document the plan follows")),
                ("source_revision", models.CharField(max_length=80)),
                ("credit", models.JSONField(help_text='{"75": [72, 85], "65": [62, 68]}')),
                (
                    "low",
                    models.FloatField(
                        default=60.0, help_text="airborne below this share of rated power is light running"
                    ),
                ),
                ("expected_low_h", models.FloatField()),
                ("expected_high_h", models.FloatField()),
                ("minimum_h", models.FloatField(help_text="never ready for review before")),
                ("accept_qt_h", models.FloatField()),
                ("watch_qt_h", models.FloatField()),
                ("alarm_qt_h", models.FloatField()),
                (
                    "oil_kind",
                    models.CharField(
                        choices=[
                            ("mineral", "straight mineral"),
                            ("ad", "ashless dispersant"),
                            ("other", "other or unknown"),
                        ],
                        default="mineral",
                        max_length=8,
                    ),
                ),
                ("ground_note_min", models.FloatField(default=10.0)),
                ("ground_call_min", models.FloatField(default=20.0)),
                ("first_oil_h", models.FloatField(default=10.0)),
                ("first_oil_from_h", models.FloatField(default=8.0)),
                ("first_oil_until_h", models.FloatField(default=12.0)),
                (
                    "follow_up_h",
                    models.JSONField(default=list, help_text="hours after close-out, for example [10, 25, 50]"),
                ),
                (
                    "follow_up_days",
                    models.JSONField(
                        blank=True,
                        default=breakin.models.plan.follow_up_days,
                        help_text="days after close-out, whichever comes first, as [30, 90, 180]",
                    ),
                ),
                (
                    "idle_days",
                    models.JSONField(default=list, help_text="days without a flight: nudge, chase, call, manager"),
                ),
                (
                    "first_check_h",
                    models.FloatField(default=25.0, help_text="compression and bores are not judged before"),
                ),
                (
                    "filter_table",
                    models.JSONField(
                        blank=True,
                        default=breakin.models.plan.filter_table,
                        help_text="most pieces of each material in a filter: none, few, some, many",
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("revision", models.PositiveIntegerField(default=1)),
                ("stages", models.JSONField()),
                (
                    "rates_by_type",
                    models.BooleanField(default=True, help_text="the rates of a plan follow from its engine type"),
                ),
                (
                    "hours_by_finish",
                    models.BooleanField(default=True, help_text="its hours follow from the slowest finish fitted"),
                ),
                ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "copied_from",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="copies",
                        to="breakin.plantemplate",
                    ),
                ),
                (
                    "made_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="shop.person",
                    ),
                ),
            ],
            options={
                "ordering": ["name", "-revision"],
                "constraints": [
                    models.UniqueConstraint(fields=("name", "revision"), name="plan_template_revision_once"),
                ],
            },
        ),
        migrations.CreateModel(
            name="PowerBlock",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("order", models.PositiveSmallIntegerField()),
                ("duration_min", models.FloatField()),
                (
                    "stated_band",
                    models.CharField(blank=True, help_text="75 or 65 where flown as on the card", max_length=4),
                ),
                ("pressure_altitude_ft", models.FloatField(blank=True, null=True)),
                ("oat_degf", models.FloatField(blank=True, null=True)),
                ("rpm", models.FloatField(blank=True, null=True)),
                ("map_inhg", models.FloatField(blank=True, null=True)),
                ("fuel_flow_gph", models.FloatField(blank=True, null=True)),
                ("claimed_pct", models.FloatField(blank=True, null=True)),
                (
                    "mixture",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("first_peak", "100 degF rich of peak on the first cylinder to peak"),
                            ("rich", "rich by the POH"),
                            ("other", "other"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "cowl_flaps",
                    models.CharField(
                        blank=True,
                        choices=[("open", "open"), ("trail", "trail"), ("closed", "closed"), ("none", "none fitted")],
                        max_length=6,
                    ),
                ),
                ("cht_max_degf", models.FloatField(blank=True, null=True)),
                ("cht_mean_degf", models.FloatField(blank=True, null=True)),
            ],
            options={
                "ordering": ["flight_engine", "order"],
            },
        ),
        migrations.CreateModel(
            name="PriorAdoption",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("reason", models.TextField()),
            ],
            options={
                "ordering": ["-at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="PriorProposal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("night", models.DateField(help_text="the shop's day on which it was made", unique=True)),
                ("made_at", models.DateTimeField()),
                ("name", models.CharField(help_text="what an assessment names that uses it", max_length=60)),
                ("engines", models.PositiveIntegerField(help_text="how many ended builds it was learned from")),
                (
                    "finishes",
                    models.JSONField(
                        help_text='one object a finish: {"finish", "builds": [id], "decay_h": [built in, proposed, low, high], "plateau_qt_h": the same}'
                    ),
                ),
                (
                    "numbers",
                    models.JSONField(help_text="the numbers of each finish, as breakin.calc.oil.learn.finish_numbers"),
                ),
                (
                    "left_out",
                    models.JSONField(blank=True, default=list, help_text='[{"build": id, "why": "..."}, ...]'),
                ),
            ],
            options={
                "ordering": ["-night"],
            },
        ),
        migrations.CreateModel(
            name="ProposalReturn",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("reason", models.TextField()),
            ],
        ),
        migrations.CreateModel(
            name="RecordedEngine",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("side", models.CharField(help_text="1: single or left, 2: right", max_length=1)),
                ("summary", models.JSONField()),
            ],
            options={
                "ordering": ["recorded_flight", "side"],
            },
        ),
        migrations.CreateModel(
            name="RecordedFlight",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField(help_text="1 is the first in the file")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("flight", "flight"),
                            ("ground_run", "ground run"),
                            ("aborted", "take-off broken off"),
                        ],
                        max_length=10,
                    ),
                ),
                ("first_row", models.PositiveBigIntegerField()),
                ("end_row", models.PositiveBigIntegerField(help_text="the row after the last one")),
                ("began_at", models.DateTimeField(help_text="UTC; of the recorder's clock plus clock_shift_s")),
                ("ended_at", models.DateTimeField()),
                (
                    "dated_by",
                    models.CharField(
                        choices=[
                            ("file", "by the file's own date"),
                            ("flight", "by the flight it was matched with"),
                            ("person", "by hand"),
                            ("unknown", "not dated: the file has no date, or a wrong one"),
                        ],
                        max_length=8,
                    ),
                ),
                ("clock_shift_s", models.FloatField(default=0.0, help_text="added to the recorder's own time")),
                ("landings", models.PositiveSmallIntegerField(default=0)),
                ("run_min", models.FloatField()),
                ("airborne_min", models.FloatField()),
                (
                    "quality",
                    models.IntegerField(default=0, help_text="of two recorders on one flight the higher one counts"),
                ),
                (
                    "flight_root",
                    models.UUIDField(blank=True, db_index=True, help_text="the flight it belongs to", null=True),
                ),
                ("confirmed", models.BooleanField(default=False, help_text="a person said so; else matched by time")),
                ("summary", models.JSONField(blank=True, default=dict, help_text="events, phases, split, notes")),
                ("version", models.PositiveIntegerField(default=0)),
            ],
            options={
                "ordering": ["recording", "number"],
            },
        ),
        migrations.CreateModel(
            name="Recording",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sha256", models.CharField(max_length=64)),
                ("file", models.FileField(upload_to="recordings/%Y/%m/")),
                ("original_name", models.CharField(max_length=200)),
                ("size_bytes", models.PositiveBigIntegerField()),
                ("uploaded_at", models.DateTimeField()),
                ("flight_root", models.UUIDField(blank=True, help_text="the flight it was handed in with", null=True)),
                ("note", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["-uploaded_at"],
            },
        ),
        migrations.CreateModel(
            name="RunInPlan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "variant",
                    models.CharField(
                        help_text="for example: constant speed, fixed pitch, turbo, partial", max_length=40
                    ),
                ),
                ("source", models.TextField(help_text="document the plan follows")),
                ("source_revision", models.CharField(max_length=80)),
                ("credit", models.JSONField(help_text='{"75": [72, 85], "65": [62, 68]}')),
                (
                    "low",
                    models.FloatField(
                        default=60.0, help_text="airborne below this share of rated power is light running"
                    ),
                ),
                ("expected_low_h", models.FloatField()),
                ("expected_high_h", models.FloatField()),
                ("minimum_h", models.FloatField(help_text="never ready for review before")),
                ("accept_qt_h", models.FloatField()),
                ("watch_qt_h", models.FloatField()),
                ("alarm_qt_h", models.FloatField()),
                (
                    "oil_kind",
                    models.CharField(
                        choices=[
                            ("mineral", "straight mineral"),
                            ("ad", "ashless dispersant"),
                            ("other", "other or unknown"),
                        ],
                        default="mineral",
                        max_length=8,
                    ),
                ),
                ("ground_note_min", models.FloatField(default=10.0)),
                ("ground_call_min", models.FloatField(default=20.0)),
                ("first_oil_h", models.FloatField(default=10.0)),
                ("first_oil_from_h", models.FloatField(default=8.0)),
                ("first_oil_until_h", models.FloatField(default=12.0)),
                (
                    "follow_up_h",
                    models.JSONField(default=list, help_text="hours after close-out, for example [10, 25, 50]"),
                ),
                (
                    "follow_up_days",
                    models.JSONField(
                        blank=True,
                        default=breakin.models.plan.follow_up_days,
                        help_text="days after close-out, whichever comes first, as [30, 90, 180]",
                    ),
                ),
                (
                    "idle_days",
                    models.JSONField(default=list, help_text="days without a flight: nudge, chase, call, manager"),
                ),
                (
                    "first_check_h",
                    models.FloatField(default=25.0, help_text="compression and bores are not judged before"),
                ),
                (
                    "filter_table",
                    models.JSONField(
                        blank=True,
                        default=breakin.models.plan.filter_table,
                        help_text="most pieces of each material in a filter: none, few, some, many",
                    ),
                ),
                ("revision", models.PositiveIntegerField()),
                ("issued_at", models.DateTimeField()),
                ("reason", models.TextField(blank=True, help_text="why it was re-issued")),
            ],
            options={
                "ordering": ["build", "-revision"],
            },
        ),
        migrations.CreateModel(
            name="Waiver",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "criterion",
                    models.CharField(help_text="key of the criterion, as in breakin.rules.criteria", max_length=24),
                ),
                ("granted", models.BooleanField(default=True)),
                ("reason", models.TextField()),
                ("lacked", models.TextField(help_text="what was lacking, in the words of the review at that moment")),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["build", "at", "id"],
            },
        ),
        migrations.AddField(
            model_name="assessment",
            name="aircraft",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="assessments",
                to="engines.aircraft",
            ),
        ),
        migrations.AddField(
            model_name="assessment",
            name="build",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="assessment", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="assessment",
            name="engine",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="engines.engine"),
        ),
        migrations.AddField(
            model_name="assessment",
            name="installation",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="engines.installation",
            ),
        ),
        migrations.AddField(
            model_name="assessmentday",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="days", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="channelmap",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="channel_maps", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="channelmap",
            name="confirmed_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="closeoutfile",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="close_out_files", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="closeoutfile",
            name="proposed_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="closeoutfile",
            name="signed_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="closeoutproposal",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="proposals", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="closeoutproposal",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="closeoutfile",
            name="proposal",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="file", to="breakin.closeoutproposal"
            ),
        ),
        migrations.AddField(
            model_name="dueitem",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="due_items", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="dueitem",
            name="waived_by",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="finding",
            name="acknowledged_by",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="finding",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="findings", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="findingverdict",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="findingverdict",
            name="finding",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="verdicts", to="breakin.finding"
            ),
        ),
        migrations.AddField(
            model_name="flight",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="flights", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="flight",
            name="corrects",
            field=models.OneToOneField(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="corrected_by",
                to="breakin.flight",
            ),
        ),
        migrations.AddField(
            model_name="flight",
            name="entered_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="flight",
            name="field",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.place"
            ),
        ),
        migrations.AddField(
            model_name="flight",
            name="on_behalf_of",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="flight",
            name="pilot",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="flightengine",
            name="engine",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="flights", to="engines.engine"
            ),
        ),
        migrations.AddField(
            model_name="flightengine",
            name="flight",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="engines", to="breakin.flight"
            ),
        ),
        migrations.AddField(
            model_name="flightengine",
            name="installation",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="flights", to="engines.installation"
            ),
        ),
        migrations.AddField(
            model_name="flightmatch",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="issuedcard",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="cards", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="flightengine",
            name="as_on_card",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="breakin.issuedcard",
            ),
        ),
        migrations.AddField(
            model_name="mergedecision",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="mergedecision",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="message",
            name="aircraft",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="messages",
                to="engines.aircraft",
            ),
        ),
        migrations.AddField(
            model_name="message",
            name="recipient",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="messages", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="aircraft",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="engines.aircraft",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="notices", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="due_item",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="breakin.dueitem",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="finding",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="breakin.finding",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="message",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="breakin.message",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="note",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="notices",
                to="breakin.shopnote",
            ),
        ),
        migrations.AddField(
            model_name="notice",
            name="recipient",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="notices", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="oilevent",
            name="corrects",
            field=models.OneToOneField(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="corrected_by",
                to="breakin.oilevent",
            ),
        ),
        migrations.AddField(
            model_name="oilevent",
            name="engine",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="oil_events", to="engines.engine"
            ),
        ),
        migrations.AddField(
            model_name="oilevent",
            name="entered_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="oilevent",
            name="on_behalf_of",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="phonecall",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="calls", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="phonecall",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="phonecall",
            name="person",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
            ),
        ),
        migrations.AddField(
            model_name="powerblock",
            name="flight_engine",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="blocks", to="breakin.flightengine"
            ),
        ),
        migrations.AddField(
            model_name="prioradoption",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddConstraint(
            model_name="priorproposal",
            constraint=models.CheckConstraint(
                condition=models.Q(("engines__gt", 0)), name="prior_proposal_from_engines"
            ),
        ),
        migrations.AddField(
            model_name="prioradoption",
            name="proposal",
            field=models.ForeignKey(
                blank=True,
                help_text="none: the built-in prior",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="adoptions",
                to="breakin.priorproposal",
            ),
        ),
        migrations.AddField(
            model_name="proposalreturn",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="proposalreturn",
            name="proposal",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="returned", to="breakin.closeoutproposal"
            ),
        ),
        migrations.AddField(
            model_name="recordedengine",
            name="engine",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="recorded", to="engines.engine"
            ),
        ),
        migrations.AddField(
            model_name="recordedengine",
            name="installation",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="recorded", to="engines.installation"
            ),
        ),
        migrations.AddField(
            model_name="recordedengine",
            name="recorded_flight",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="engines", to="breakin.recordedflight"
            ),
        ),
        migrations.AddField(
            model_name="flightmatch",
            name="recorded_flight",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="matches", to="breakin.recordedflight"
            ),
        ),
        migrations.CreateModel(
            name="RecordingRead",
            fields=[
                (
                    "recording",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="reading",
                        serialize=False,
                        to="breakin.recording",
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting to be read"),
                            ("reading", "being read"),
                            ("asks", "asks about its columns"),
                            ("read", "read"),
                            ("refused", "could not be read"),
                        ],
                        default="waiting",
                        max_length=8,
                    ),
                ),
                ("step", models.CharField(blank=True, help_text="what is being done now, in words", max_length=80)),
                ("done", models.PositiveBigIntegerField(default=0)),
                ("total", models.PositiveBigIntegerField(default=0)),
                (
                    "problem",
                    models.JSONField(
                        blank=True, default=dict, help_text="{what, row, column, mend} when it was refused"
                    ),
                ),
                (
                    "look",
                    models.JSONField(
                        blank=True, default=dict, help_text="columns, proposals and questions for the mapping page"
                    ),
                ),
                ("table", models.FileField(blank=True, help_text="canonical Parquet", upload_to="tables/%Y/%m/")),
                ("rows", models.PositiveBigIntegerField(default=0)),
                ("sample_s", models.FloatField(blank=True, null=True)),
                (
                    "notes",
                    models.JSONField(blank=True, default=list, help_text="sentences: what was left out or repaired"),
                ),
                ("version", models.PositiveIntegerField(default=0, help_text="of the reader and the analysis")),
                (
                    "flight_date",
                    models.DateField(blank=True, help_text="of a file without a date, as a person said", null=True),
                ),
                (
                    "attempts",
                    models.PositiveSmallIntegerField(default=0, help_text="begun since it was last asked for"),
                ),
                ("asked_at", models.DateTimeField(help_text="when it was last queued")),
                ("started_at", models.DateTimeField(blank=True, null=True)),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
            ],
        ),
        migrations.AddField(
            model_name="recording",
            name="aircraft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="recordings", to="engines.aircraft"
            ),
        ),
        migrations.AddField(
            model_name="recording",
            name="uploaded_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="recordedflight",
            name="recording",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="flights", to="breakin.recording"
            ),
        ),
        migrations.AddField(
            model_name="runinplan",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="plans", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="runinplan",
            name="issued_by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddField(
            model_name="runinplan",
            name="template",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="plans",
                to="breakin.plantemplate",
            ),
        ),
        migrations.AddField(
            model_name="planstage",
            name="plan",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="stages", to="breakin.runinplan"
            ),
        ),
        migrations.AddField(
            model_name="issuedcard",
            name="plan",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="cards", to="breakin.runinplan"
            ),
        ),
        migrations.AddField(
            model_name="waiver",
            name="build",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="waivers", to="engines.build"
            ),
        ),
        migrations.AddField(
            model_name="waiver",
            name="by",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(fields=["live", "sort_key"], name="board_order"),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(fields=["live", "lane", "sort_key"], name="board_lane_order"),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(fields=["live", "registration"], name="board_registration"),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(
                fields=["asks", "place_name", "customer_name", "registration", "side", "id"], name="today_order"
            ),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(fields=["live", "customer_name"], name="board_customer"),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(
                fields=["live", "registration"],
                name="board_find_registration",
                opclasses=["bool_ops", "varchar_pattern_ops"],
            ),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(
                fields=["live", "serial"], name="board_find_serial", opclasses=["bool_ops", "varchar_pattern_ops"]
            ),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(
                fields=["live", "customer_name"],
                name="board_find_customer",
                opclasses=["bool_ops", "varchar_pattern_ops"],
            ),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(condition=models.Q(("live", True)), fields=["next_change_at"], name="assess_when_due"),
        ),
        migrations.AddIndex(
            model_name="assessment",
            index=models.Index(
                condition=models.Q(("dirty_at__isnull", False)), fields=["dirty_at"], name="assess_dirty"
            ),
        ),
        migrations.AddConstraint(
            model_name="assessmentday",
            constraint=models.UniqueConstraint(fields=("build", "day"), name="assessment_day_once"),
        ),
        migrations.AddIndex(
            model_name="channelmap",
            index=models.Index(fields=["aircraft", "signature"], name="channel_map_of_recorder"),
        ),
        migrations.AddConstraint(
            model_name="closeoutfile",
            constraint=models.UniqueConstraint(fields=("build", "number"), name="close_out_file_number_once"),
        ),
        migrations.AddIndex(
            model_name="dueitem",
            index=models.Index(fields=["state", "build"], name="due_item_open"),
        ),
        migrations.AddConstraint(
            model_name="dueitem",
            constraint=models.UniqueConstraint(fields=("build", "rule", "occurrence"), name="due_item_once"),
        ),
        migrations.AddIndex(
            model_name="finding",
            index=models.Index(fields=["build", "state"], name="finding_open"),
        ),
        migrations.AddConstraint(
            model_name="finding",
            constraint=models.UniqueConstraint(fields=("build", "rule", "occurrence"), name="finding_once"),
        ),
        migrations.AddIndex(
            model_name="flight",
            index=models.Index(fields=["aircraft", "happened_at"], name="flight_in_order"),
        ),
        migrations.AddConstraint(
            model_name="flight",
            constraint=models.CheckConstraint(
                condition=models.Q(("airborne_min__gte", 0), ("airborne_min__lte", 840)), name="flight_airborne_hard"
            ),
        ),
        migrations.AddConstraint(
            model_name="flight",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("ground_before_min__isnull", True),
                    models.Q(("ground_before_min__gte", 0), ("ground_before_min__lte", 180)),
                    _connector="OR",
                ),
                name="flight_ground_before_hard",
            ),
        ),
        migrations.AddConstraint(
            model_name="flight",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("ground_after_min__isnull", True),
                    models.Q(("ground_after_min__gte", 0), ("ground_after_min__lte", 180)),
                    _connector="OR",
                ),
                name="flight_ground_after_hard",
            ),
        ),
        migrations.AddConstraint(
            model_name="flight",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("altimeter_inhg__isnull", True),
                    models.Q(("altimeter_inhg__gte", 28.0), ("altimeter_inhg__lte", 31.2)),
                    _connector="OR",
                ),
                name="flight_altimeter_hard",
            ),
        ),
        migrations.AddConstraint(
            model_name="flight",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("off_block_at__isnull", True),
                    ("on_block_at__isnull", True),
                    ("on_block_at__gte", models.F("off_block_at")),
                    _connector="OR",
                ),
                name="flight_times_ordered",
            ),
        ),
        migrations.AddConstraint(
            model_name="flightengine",
            constraint=models.UniqueConstraint(fields=("flight", "engine"), name="engine_once_a_flight"),
        ),
        migrations.AddConstraint(
            model_name="flightengine",
            constraint=models.CheckConstraint(
                condition=models.Q(("hours__gte", 0), ("hours__lte", 14)), name="flight_engine_hours_hard"
            ),
        ),
        migrations.AddConstraint(
            model_name="flightengine",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("meter_start_h__isnull", True),
                    ("meter_end_h__isnull", True),
                    ("meter_end_h__gte", models.F("meter_start_h")),
                    _connector="OR",
                ),
                name="meter_runs_forward",
            ),
        ),
        migrations.AddConstraint(
            model_name="flightengine",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("cht_max_degf__isnull", True),
                    models.Q(("cht_max_degf__gte", 50), ("cht_max_degf__lte", 600)),
                    _connector="OR",
                ),
                name="flight_engine_cht_hard",
            ),
        ),
        migrations.AddConstraint(
            model_name="mergedecision",
            constraint=models.CheckConstraint(
                condition=models.Q(("kept_root", models.F("dropped_root")), _negated=True),
                name="merge_of_two_different_flights",
            ),
        ),
        migrations.AddIndex(
            model_name="message",
            index=models.Index(
                condition=models.Q(("state__in", ["claimed", "retry"])), fields=["retry_at"], name="message_to_send"
            ),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(condition=models.Q(("state", "waiting")), fields=["not_before"], name="notice_to_send"),
        ),
        migrations.AddIndex(
            model_name="notice",
            index=models.Index(fields=["state", "-id"], name="notice_by_state"),
        ),
        migrations.AddConstraint(
            model_name="notice",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("finding__isnull", False), ("due_item__isnull", False), ("note__isnull", False), _connector="OR"
                ),
                name="notice_is_about_something",
            ),
        ),
        migrations.AddIndex(
            model_name="oilevent",
            index=models.Index(fields=["engine", "happened_at"], name="oil_event_in_order"),
        ),
        migrations.AddConstraint(
            model_name="oilevent",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "reading"), _negated=True), ("level_qt__isnull", False), _connector="OR"
                ),
                name="oil_reading_has_a_level",
            ),
        ),
        migrations.AddConstraint(
            model_name="oilevent",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "addition"), _negated=True),
                    models.Q(("amount_qt__gt", 0), ("oil_kind__gt", "")),
                    _connector="OR",
                ),
                name="oil_addition_has_amount_kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="oilevent",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "drain_fill"), _negated=True), ("filled_qt__gte", 0), _connector="OR"
                ),
                name="oil_fill_has_an_amount",
            ),
        ),
        migrations.AddConstraint(
            model_name="oilevent",
            constraint=models.CheckConstraint(
                condition=models.Q(("level_qt__isnull", True), ("level_qt__gte", 0), _connector="OR"),
                name="oil_level_hard",
            ),
        ),
        migrations.AddIndex(
            model_name="phonecall",
            index=models.Index(fields=["aircraft", "-at"], name="phone_call_newest"),
        ),
        migrations.AddConstraint(
            model_name="phonecall",
            constraint=models.CheckConstraint(
                condition=models.Q(("said", ""), _negated=True), name="phone_call_says_something"
            ),
        ),
        migrations.AddConstraint(
            model_name="powerblock",
            constraint=models.UniqueConstraint(fields=("flight_engine", "order"), name="block_order_once"),
        ),
        migrations.AddConstraint(
            model_name="powerblock",
            constraint=models.CheckConstraint(
                condition=models.Q(("duration_min__gte", 1), ("duration_min__lte", 400)), name="block_duration_hard"
            ),
        ),
        migrations.AddConstraint(
            model_name="powerblock",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("map_inhg__isnull", True), models.Q(("map_inhg__gte", 8), ("map_inhg__lte", 70)), _connector="OR"
                ),
                name="block_map_hard",
            ),
        ),
        migrations.AddConstraint(
            model_name="powerblock",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("rpm__isnull", True), models.Q(("rpm__gte", 500), ("rpm__lte", 6500)), _connector="OR"
                ),
                name="block_rpm_hard",
            ),
        ),
        migrations.AddConstraint(
            model_name="prioradoption",
            constraint=models.CheckConstraint(
                condition=models.Q(("reason", ""), _negated=True), name="prior_adoption_says_why"
            ),
        ),
        migrations.AddConstraint(
            model_name="recordedengine",
            constraint=models.UniqueConstraint(fields=("recorded_flight", "side"), name="recorded_side_once"),
        ),
        migrations.AddField(
            model_name="recordingread",
            name="channel_map",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="breakin.channelmap",
            ),
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.UniqueConstraint(fields=("aircraft", "sha256"), name="recording_once"),
        ),
        migrations.AddConstraint(
            model_name="recordedflight",
            constraint=models.UniqueConstraint(fields=("recording", "number"), name="recorded_flight_once"),
        ),
        migrations.AddConstraint(
            model_name="runinplan",
            constraint=models.UniqueConstraint(fields=("build", "revision"), name="plan_revision_once"),
        ),
        migrations.AddConstraint(
            model_name="runinplan",
            constraint=models.CheckConstraint(
                condition=models.Q(("expected_high_h__gte", models.F("expected_low_h"))), name="plan_hours_ordered"
            ),
        ),
        migrations.AddConstraint(
            model_name="runinplan",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("alarm_qt_h__gte", models.F("watch_qt_h")), ("watch_qt_h__gte", models.F("accept_qt_h"))
                ),
                name="plan_rates_ordered",
            ),
        ),
        migrations.AddConstraint(
            model_name="planstage",
            constraint=models.UniqueConstraint(fields=("plan", "order"), name="plan_stage_once"),
        ),
        migrations.AddConstraint(
            model_name="issuedcard",
            constraint=models.UniqueConstraint(fields=("build", "number"), name="card_number_once"),
        ),
        migrations.AddIndex(
            model_name="recordingread",
            index=models.Index(fields=["state", "asked_at"], name="reading_left_over"),
        ),
        migrations.CreateModel(
            name="DeliveryPlan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("revision", models.PositiveIntegerField()),
                (
                    "home",
                    models.CharField(help_text="where the aircraft is at home once it is handed over", max_length=80),
                ),
                ("ferried", models.BooleanField(help_text="is it flown home?")),
                ("ferry_min", models.FloatField(blank=True, help_text="minutes in the air", null=True)),
                ("ferry_nm", models.FloatField(blank=True, help_text="distance, where it was given", null=True)),
                ("ferry_kt", models.FloatField(blank=True, help_text="ground speed, where it was given", null=True)),
                ("ferry_altitude_ft", models.FloatField(blank=True, null=True)),
                (
                    "ferry_after_h",
                    models.FloatField(
                        blank=True, help_text="hours of the first two that are flown before the ferry", null=True
                    ),
                ),
                ("note", models.TextField(blank=True, help_text="what was agreed with the customer")),
                ("typed", models.JSONField(blank=True, default=dict, help_text="field: [text, unit] as it was typed")),
                ("made_at", models.DateTimeField()),
                (
                    "aircraft",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="delivery_plans",
                        to="engines.aircraft",
                    ),
                ),
                (
                    "ferry_pilot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="shop.person",
                    ),
                ),
                (
                    "made_by",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"),
                ),
            ],
            options={
                "ordering": ["aircraft", "-revision"],
            },
        ),
        migrations.CreateModel(
            name="DeliveryHour",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveSmallIntegerField()),
                ("field", models.CharField(max_length=80)),
                ("elevation_ft", models.FloatField()),
                ("oat_degf", models.FloatField(blank=True, help_text="temperature expected at the field", null=True)),
                ("altitude_ft", models.FloatField()),
                (
                    "pilot",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="shop.person",
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="hours", to="breakin.deliveryplan"
                    ),
                ),
            ],
            options={
                "ordering": ["plan", "number"],
            },
        ),
        migrations.AddConstraint(
            model_name="deliveryplan",
            constraint=models.UniqueConstraint(fields=("aircraft", "revision"), name="delivery_revision_once"),
        ),
        migrations.AddConstraint(
            model_name="deliveryplan",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("ferried", False),
                    models.Q(("ferry_after_h__gte", 0), ("ferry_altitude_ft__isnull", False), ("ferry_min__gt", 0)),
                    _connector="OR",
                ),
                name="delivery_ferry_is_whole",
            ),
        ),
        migrations.AddConstraint(
            model_name="deliveryhour",
            constraint=models.UniqueConstraint(fields=("plan", "number"), name="delivery_hour_once"),
        ),
        migrations.AddConstraint(
            model_name="deliveryhour",
            constraint=models.CheckConstraint(
                condition=models.Q(("number__in", [1, 2])), name="delivery_hour_is_one_of_two"
            ),
        ),
    ]
