import django.db.models.deletion
import django.db.models.functions.text
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models

import shop.models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="Customer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=120, unique=True)),
                ("phone", models.CharField(blank=True, max_length=40)),
            ],
            options={
                "ordering": ["name"],
            },
        ),
        migrations.CreateModel(
            name="User",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text="Designates that this user has all permissions without explicitly assigning them.",
                        verbose_name="superuser status",
                    ),
                ),
                ("email", models.EmailField(max_length=254, unique=True)),
                ("is_staff", models.BooleanField(default=False, verbose_name="may open the admin")),
                ("is_active", models.BooleanField(default=True)),
                ("date_joined", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text="The groups this user belongs to. A user will get all permissions granted to each of their groups.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ApiToken",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=60)),
                ("sha256", models.CharField(editable=False, max_length=64, unique=True)),
                (
                    "scope",
                    models.CharField(
                        choices=[("read", "read"), ("write", "read and write"), ("calendar", "be read as a calendar")],
                        default="read",
                        max_length=8,
                    ),
                ),
                ("created_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("expires_at", models.DateTimeField(blank=True, null=True)),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                ("last_used_at", models.DateTimeField(blank=True, null=True)),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="api_tokens",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-created_at"],
            },
        ),
        migrations.CreateModel(
            name="JobRun",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=40)),
                ("occurrence", models.CharField(help_text="the moment or day this run stands for", max_length=40)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("running", "running"),
                            ("finished", "finished"),
                            ("failed", "finished with failures"),
                        ],
                        default="running",
                        max_length=8,
                    ),
                ),
                ("started_at", models.DateTimeField()),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                ("expected", models.PositiveIntegerField(default=0)),
                ("done", models.PositiveIntegerField(default=0)),
                ("failed", models.PositiveIntegerField(default=0)),
                ("error", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["-started_at", "-id"],
                "indexes": [models.Index(fields=["name", "-started_at"], name="job_run_newest")],
                "constraints": [models.UniqueConstraint(fields=("name", "occurrence"), name="job_run_once")],
            },
        ),
        migrations.CreateModel(
            name="Person",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=80)),
                (
                    "email",
                    models.EmailField(blank=True, help_text="where messages go; empty = use the phone", max_length=254),
                ),
                (
                    "bounced_email",
                    models.EmailField(blank=True, help_text="the address from which a mail came back", max_length=254),
                ),
                ("phone", models.CharField(blank=True, max_length=40)),
                (
                    "language",
                    models.CharField(choices=[("en", "English"), ("de", "Deutsch")], default="en", max_length=8),
                ),
                ("zone", models.CharField(default="UTC", max_length=64, validators=[shop.models.validate_zone])),
                (
                    "units",
                    models.CharField(
                        choices=[
                            ("us", "US (qt, degF, inHg, gal/h)"),
                            ("si", "SI (L, degC, hPa, L/h)"),
                            ("mixed", "mixed (L, degC, inHg, gal/h)"),
                        ],
                        default="us",
                        max_length=5,
                    ),
                ),
                (
                    "quiet_from",
                    models.TimeField(default="21:00", help_text="no messages from this local time on, Stops excepted"),
                ),
                ("quiet_until", models.TimeField(default="07:00")),
                (
                    "toured_at",
                    models.DateTimeField(
                        blank=True,
                        help_text="when the tour was read or left",
                        null=True,
                    ),
                ),
                (
                    "user",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="person",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "people",
                "ordering": ["name", "id"],
            },
        ),
        migrations.CreateModel(
            name="CustomerMember",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("since", models.DateTimeField(default=django.utils.timezone.now)),
                ("until", models.DateTimeField(blank=True, null=True)),
                ("role", models.CharField(choices=[("owner", "owner"), ("club_member", "club member")], max_length=12)),
                ("first_contact", models.BooleanField(default=False, help_text="the person whom the shop calls")),
                (
                    "customer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="members", to="shop.customer"
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="memberships", to="shop.person"
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="customer",
            name="people",
            field=models.ManyToManyField(related_name="customers", through="shop.CustomerMember", to="shop.person"),
        ),
        migrations.CreateModel(
            name="AuditEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("act", models.CharField(max_length=40)),
                ("subject", models.CharField(help_text="model of the row that was changed", max_length=40)),
                ("subject_id", models.CharField(max_length=40)),
                ("detail", models.JSONField(blank=True, default=dict)),
                (
                    "actor",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.person"
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-id"],
            },
        ),
        migrations.CreateModel(
            name="Place",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=80, unique=True)),
                ("elevation_ft", models.FloatField()),
                ("zone", models.CharField(max_length=64, validators=[shop.models.validate_zone])),
            ],
            options={
                "ordering": ["name"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("elevation_ft__gte", -1500), ("elevation_ft__lte", 14500)),
                        name="place_elevation_in_range",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Shop",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=120)),
                ("phone", models.CharField(blank=True, max_length=40)),
                (
                    "mail",
                    models.EmailField(
                        blank=True, help_text="where answers to its mails go; empty = nowhere", max_length=254
                    ),
                ),
                ("only", models.BooleanField(default=True, editable=False, unique=True)),
                (
                    "place",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="shop.place"),
                ),
            ],
        ),
        migrations.CreateModel(
            name="ShopRole",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("since", models.DateTimeField(default=django.utils.timezone.now)),
                ("until", models.DateTimeField(blank=True, null=True)),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("manager", "shop manager"),
                            ("build_technician", "build technician"),
                            ("line_technician", "line technician"),
                            ("signatory", "inspector / signatory"),
                            ("break_in_pilot", "break-in pilot / instructor"),
                        ],
                        max_length=20,
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="shop_roles", to="shop.person"
                    ),
                ),
            ],
        ),
        migrations.AddConstraint(
            model_name="user",
            constraint=models.UniqueConstraint(
                django.db.models.functions.text.Lower("email"), name="user_email_unique_any_case"
            ),
        ),
        migrations.AddConstraint(
            model_name="customermember",
            constraint=models.UniqueConstraint(
                condition=models.Q(("until__isnull", True)), fields=("customer", "person"), name="customer_member_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="customermember",
            constraint=models.CheckConstraint(
                condition=models.Q(("until__isnull", True), ("until__gt", models.F("since")), _connector="OR"),
                name="customer_member_period",
            ),
        ),
        migrations.AddIndex(
            model_name="auditevent",
            index=models.Index(fields=["subject", "subject_id"], name="audit_subject"),
        ),
        migrations.AddConstraint(
            model_name="shop",
            constraint=models.CheckConstraint(condition=models.Q(("only", True)), name="shop_only_one"),
        ),
        migrations.AddConstraint(
            model_name="shoprole",
            constraint=models.UniqueConstraint(
                condition=models.Q(("until__isnull", True)), fields=("person", "role"), name="shop_role_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="shoprole",
            constraint=models.CheckConstraint(
                condition=models.Q(("until__isnull", True), ("until__gt", models.F("since")), _connector="OR"),
                name="shop_role_period",
            ),
        ),
    ]
